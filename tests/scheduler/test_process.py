"""The lookup's rules: S1 (jars, bands, confidence), S3 (whole lines), S7 (pressure, steam), S14 (sterilise, acid)."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.acid import AcidDose
from scheduler.canner_kind import CannerKind
from scheduler.errors import AltitudeOutOfRange, NoPublishedProcess, UnknownFood
from scheduler.foods import find_food, foods, is_meat_or_fish
from scheduler.jars import SHAPES, JarSize, Pack
from scheduler.process import (
    Confidence,
    Method,
    Process,
    find_processes,
    is_low_acid,
    printed_processes,
    process_named,
    published_in_words,
)
from tests.scheduler.printed_tables import rows

FOOD_IDS = sorted(food.id for food in foods())

# Rule S1, written out apart from scheduler.jars: the printed jars each jar may take its process from, in order.
# Source: Kansas State Univ. Extension, Choose the Right Jar (2019), Canning in Odd-Sized Jars (2022).
BORROWS = {
    "quarter_pint": ("quarter_pint", "half_pint", "pint"),
    "half_pint": ("half_pint", "pint"),
    "twelve_ounce": ("twelve_ounce", "pint"),
    "pint": ("pint",),
    "pint_and_half": ("pint_and_half", "quart"),
    "quart": ("quart",),
    "half_gallon": ("half_gallon",),
}
METHODS = {
    CannerKind.DIAL: "pressure_dial",
    CannerKind.WEIGHTED: "pressure_weighted",
    CannerKind.BOILING_WATER: "boiling_water",
    CannerKind.STEAM: "boiling_water",
}
PRINTED = rows("processes")


def by_hand(
    food: str, pack: Pack, jar: JarSize, kind: CannerKind, altitude_ft: float
) -> list[tuple[str, ...]]:
    """The rows that rules S1 and S7 allow, found by reading the whole table; none when it must be refused."""
    if not 0 <= altitude_ft <= 8000:
        return []
    asked = [
        row for row in PRINTED if (row["food_id"], row["method"], row["pack"]) == (food, METHODS[kind], pack)
    ]
    printed = {row["jar_size"] for row in asked}
    size = next((name for name in BORROWS[jar] if name in printed), None)
    held = [
        row
        for row in asked
        if row["jar_size"] == size
        and altitude_ft <= int(row["altitude_max_ft"] or 8000)
        and altitude_ft > int(row["altitude_min_ft"]) - 1
    ]
    short = [row for row in held if kind is not CannerKind.STEAM or int(row["process_minutes"]) <= 45]
    return [
        (row["jar_size"], row["process_minutes"], row["pressure_psi"], row["headspace_in"]) for row in short
    ]


def figures(process: Process) -> tuple[str, int, int | None, float]:
    return (process.jar, process.process_minutes, process.pressure_psi, process.headspace_in)


questions = st.tuples(
    st.sampled_from(FOOD_IDS),
    st.sampled_from(Pack),
    st.sampled_from(JarSize),
    st.sampled_from(CannerKind),
    st.one_of(
        st.sampled_from([0.0, 1000, 1000.5, 1001, 2000, 2001, 6000, 6001, 8000, 8000.5, 8001]),
        st.floats(min_value=-100, max_value=9000),
    ),
)


@given(questions)
@settings(max_examples=1500)
def test_the_answer_is_what_reading_the_whole_table_gives(
    question: tuple[str, Pack, JarSize, CannerKind, float],
) -> None:
    by_reading = [
        (size, int(minutes), int(psi) if psi else None, float(headspace))
        for size, minutes, psi, headspace in by_hand(*question)
    ]
    try:
        found = find_processes(*question)
    except (NoPublishedProcess, AltitudeOutOfRange):
        found = ()
    assert [figures(process) for process in found] == by_reading


@given(questions)
@settings(max_examples=500)
def test_the_printed_jar_is_never_smaller_than_the_jar_asked_about(
    question: tuple[str, Pack, JarSize, CannerKind, float],
) -> None:
    _, _, jar, _, _ = question
    try:
        found = find_processes(*question)
    except (NoPublishedProcess, AltitudeOutOfRange):
        return
    assert all(SHAPES[process.jar].volume_qt >= SHAPES[jar].volume_qt for process in found)


@given(
    st.sampled_from(sorted({(p.food_id, p.pack, p.jar, p.method) for p in printed_processes()})),
    st.floats(min_value=0, max_value=8000),
    st.floats(min_value=0, max_value=8000),
)
@settings(max_examples=500)
def test_going_higher_never_asks_for_less(
    printed: tuple[str, Pack, JarSize, Method], one_ft: float, other_ft: float
) -> None:
    food, pack, jar, method = printed
    kind = next(kind for kind, name in METHODS.items() if name == method)
    low, high = (
        {(p.process_minutes, p.pressure_psi or 0) for p in find_processes(food, pack, jar, kind, altitude_ft)}
        for altitude_ft in sorted((one_ft, other_ft))
    )
    for minutes, psi in high:
        assert any(minutes >= below[0] and psi >= below[1] for below in low)


def test_alternative_lines_come_whole_and_in_printed_order() -> None:
    """USDA AIB 539 Guide 3 p. 3-8, standard tomato sauce, weighted gauge (rule S3)."""
    lines = find_processes("tomato_sauce_standard", Pack.HOT, JarSize.PINT, CannerKind.WEIGHTED, 1000)
    assert [(line.pressure_psi, line.process_minutes) for line in lines] == [(5, 20), (10, 15), (15, 10)]


def test_the_third_weighted_line_ends_at_1000_ft() -> None:
    for altitude_ft in (1000.5, 1001, 8000):
        lines = find_processes(
            "tomato_sauce_standard", Pack.HOT, JarSize.PINT, CannerKind.WEIGHTED, altitude_ft
        )
        assert [(line.pressure_psi, line.process_minutes) for line in lines] == [(10, 20), (15, 15)]


@pytest.mark.parametrize(
    ("food", "pack", "jar", "printed"),
    [
        ("applesauce", Pack.HOT, JarSize.HALF_PINT, JarSize.PINT),
        ("applesauce", Pack.HOT, JarSize.QUARTER_PINT, JarSize.PINT),
        ("apple_butter", Pack.HOT, JarSize.QUARTER_PINT, JarSize.HALF_PINT),
        ("apple_butter", Pack.HOT, JarSize.HALF_PINT, JarSize.HALF_PINT),
        ("applesauce", Pack.HOT, JarSize.TWELVE_OUNCE, JarSize.PINT),
        ("applesauce", Pack.HOT, JarSize.PINT_AND_HALF, JarSize.QUART),
        ("apple_juice", Pack.HOT, JarSize.HALF_GALLON, JarSize.HALF_GALLON),
    ],
)
def test_a_jar_borrows_only_by_rule(food: str, pack: Pack, jar: JarSize, printed: JarSize) -> None:
    lines = find_processes(food, pack, jar, CannerKind.BOILING_WATER, 500)
    assert {line.jar for line in lines} == {printed}


@pytest.mark.parametrize(
    ("food", "pack", "jar", "kind"),
    [
        ("fish_pint_jars", Pack.RAW, JarSize.QUART, CannerKind.DIAL),
        ("corn_cream_style", Pack.HOT, JarSize.QUART, CannerKind.WEIGHTED),
        ("peppers", Pack.HOT, JarSize.QUART, CannerKind.DIAL),
        ("mushrooms", Pack.HOT, JarSize.QUART, CannerKind.DIAL),
        ("mushrooms", Pack.HOT, JarSize.PINT_AND_HALF, CannerKind.DIAL),
        ("applesauce", Pack.HOT, JarSize.HALF_GALLON, CannerKind.BOILING_WATER),
        ("easy_hot_sauce", Pack.HOT, JarSize.PINT, CannerKind.BOILING_WATER),
        ("applesauce", Pack.RAW, JarSize.PINT, CannerKind.BOILING_WATER),
        ("sauerkraut", Pack.RAW, JarSize.PINT, CannerKind.DIAL),
    ],
)
def test_what_is_not_printed_is_refused_with_what_is(
    food: str, pack: Pack, jar: JarSize, kind: CannerKind
) -> None:
    with pytest.raises(NoPublishedProcess) as refused:
        find_processes(food, pack, jar, kind, 500)
    assert refused.value.published == published_in_words(food)
    assert all(line in refused.value.remedy for line in published_in_words(food))


def test_what_is_published_is_said_in_words() -> None:
    assert published_in_words("corn_cream_style") == (
        "dial-gauge pressure canner, hot pack, pint jars",
        "weighted-gauge pressure canner, hot pack, pint jars",
    )


def test_a_low_acid_food_is_one_with_pressure_processes_only() -> None:
    boiled = {row["food_id"] for row in PRINTED if row["method"] == "boiling_water"}
    assert {food for food in FOOD_IDS if is_low_acid(food)} == set(FOOD_IDS) - boiled
    assert is_low_acid("snap_beans")
    assert not is_low_acid("tomatoes_crushed")


def test_low_acid_food_never_goes_into_boiling_water_or_steam() -> None:
    """Rule S7."""
    for food in filter(is_low_acid, FOOD_IDS):
        for pack, jar, kind in (
            (pack, jar, kind)
            for pack in Pack
            for jar in JarSize
            for kind in CannerKind
            if not kind.is_pressure
        ):
            with pytest.raises(
                NoPublishedProcess, match=r"low-acid food, canned only under pressure \(rule S7\)"
            ):
                find_processes(food, pack, jar, kind, 0)


@pytest.mark.parametrize(("altitude_ft", "minutes"), [(1000, 35), (3000, 40), (6000, 45)])
def test_steam_takes_boiling_water_processes_up_to_45_minutes(altitude_ft: int, minutes: int) -> None:
    """Tomato juice in pints takes 35, 40, 45 and 50 min in boiling water (AIB 539 Guide 3 p. 3-5)."""
    lines = find_processes("tomato_juice", Pack.HOT, JarSize.PINT, CannerKind.STEAM, altitude_ft)
    assert [(line.method, line.process_minutes) for line in lines] == [(Method.BOILING_WATER, minutes)]


def test_steam_counts_the_altitude_addition() -> None:
    assert find_processes("tomato_juice", Pack.HOT, JarSize.PINT, CannerKind.BOILING_WATER, 6001)
    with pytest.raises(NoPublishedProcess, match=r"takes 50 min here.*45 min at most \(rule S7\)"):
        find_processes("tomato_juice", Pack.HOT, JarSize.PINT, CannerKind.STEAM, 6001)


def test_only_a_is_scheduled_unasked_b_when_confirmed_and_c_never() -> None:
    """Rule S1."""
    everything = frozenset(process.key for process in printed_processes())
    for process in printed_processes():
        alone = (
            process.schedulable(),
            process.schedulable(frozenset({process.key})),
            process.schedulable(everything),
        )
        others = process.schedulable(everything - {process.key})
        match process.confidence:
            case Confidence.TWO_PAGES:
                assert (*alone, others) == (True, True, True, True)
            case Confidence.ONE_PAGE:
                assert (*alone, others) == (False, True, True, False)
            case Confidence.MEMORY:
                assert (*alone, others) == (False, False, False, False)


def test_a_confirmation_does_not_outlive_a_corrected_figure() -> None:
    process = next(process for process in printed_processes() if process.confidence is Confidence.ONE_PAGE)
    minutes = f":{process.process_minutes}min"
    corrected = process.key.replace(minutes, f":{process.process_minutes + 5}min")
    assert corrected != process.key
    with pytest.raises(NoPublishedProcess):
        process_named(corrected)


def test_jars_are_sterilised_below_ten_minutes() -> None:
    """Rule S14; AIB 539, Sterilization of Empty Jars."""
    sterilised = {process.process_minutes for process in printed_processes() if process.sterilise_jars}
    not_sterilised = {
        process.process_minutes for process in printed_processes() if not process.sterilise_jars
    }
    assert sterilised == {1, 5, 8}
    assert min(not_sterilised) == 10


def test_every_row_of_an_acidified_food_says_how_much_of_what() -> None:
    printed: dict[tuple[str, str], list[tuple[str, float, str, str]]] = {}
    for row in rows("acidify"):
        dose = (row["acid"], float(row["amount"]), row["unit"], row["source"])
        printed.setdefault((row["food_id"], row["jar_size"]), []).append(dose)
    for process in printed_processes():
        doses = [(dose.acid, dose.amount, dose.unit, dose.source) for dose in process.acid]
        assert doses == printed.get((process.food_id, process.jar), [])
    acidified = {food for food, _ in printed}
    assert all(process.acid for process in printed_processes() if process.food_id in acidified)


@pytest.mark.parametrize("jar", [JarSize.QUARTER_PINT, JarSize.HALF_PINT, JarSize.TWELVE_OUNCE, JarSize.PINT])
def test_a_smaller_jar_takes_the_acid_of_the_jar_it_stands_for(jar: JarSize) -> None:
    """AIB 539 Guide 3 p. 3-5: 1 tbsp bottled lemon juice or 1/4 tsp citric acid a pint."""
    (line,) = find_processes("tomatoes_crushed", Pack.HOT, jar, CannerKind.BOILING_WATER, 0)
    assert [dose.words for dose in line.acid] == ["1 tbsp bottled lemon juice", "1/4 tsp citric acid"]


def test_a_jar_between_pint_and_quart_takes_the_acid_of_the_quart() -> None:
    (line,) = find_processes("tomatoes_crushed", Pack.HOT, JarSize.PINT_AND_HALF, CannerKind.BOILING_WATER, 0)
    assert [dose.words for dose in line.acid] == ["2 tbsp bottled lemon juice", "1/2 tsp citric acid"]


def test_doses_are_written_as_a_cook_writes_them() -> None:
    def words(amount: float) -> str:
        return AcidDose(acid="citric acid", amount=amount, unit="tsp", source="").words

    assert [words(amount) for amount in (0.25, 0.5, 1, 1.25)] == [
        "1/4 tsp citric acid",
        "1/2 tsp citric acid",
        "1 tsp citric acid",
        "1 1/4 tsp citric acid",
    ]


@pytest.mark.parametrize(
    "text", ["snap_beans", "Snap-Beans", "  SNAP BEANS ", "Beans, snap and Italian, pieces, green and wax"]
)
def test_a_food_answers_to_its_id_and_its_printed_name(text: str) -> None:
    assert find_food(text).id == "snap_beans"


def test_every_food_answers_to_both_its_names() -> None:
    for row in rows("foods"):
        food = find_food(row["food_id"])
        assert (food.id, food.name, food.guide) == (row["food_id"], row["food_name"], int(row["guide"]))
        assert find_food(row["food_name"].upper()) is food


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("aplesauce", "applesauce"),
        ("green beans", "snap_beans"),
        ("tomato sauce", "tomato_sauce_standard"),
        ("ketchup", "tomato_ketchup"),
        ("beans", "snap_beans"),
        ("salmon", "fish_pint_jars"),
    ],
)
def test_an_unknown_or_partial_name_is_refused_with_the_nearest(text: str, meant: str) -> None:
    with pytest.raises(UnknownFood) as refused:
        find_processes(text, Pack.HOT, JarSize.PINT, CannerKind.DIAL, 0)
    assert meant in refused.value.nearest
    assert meant in refused.value.remedy


@pytest.mark.parametrize("text", ["tuna", "", "???", "qqqq"])
def test_nothing_is_offered_for_a_food_like_none(text: str) -> None:
    """Tuna above all: it is named only in "fatty fish except tuna"."""
    with pytest.raises(UnknownFood) as refused:
        find_food(text)
    assert refused.value.nearest == ()


def test_meat_and_fish_are_guide_5_and_what_else_is_made_with_them() -> None:
    """Rule S15."""
    others = {food.id for food in foods() if food.meat_or_fish and food.guide != 5}
    assert all(food.meat_or_fish for food in foods() if food.guide == 5)
    assert others == {
        "soups",
        "soups_with_seafood",
        "spaghetti_sauce_with_meat",
        "festive_mincemeat_pie_filling",
    }
    assert is_meat_or_fish("Ground or chopped meat")
    assert not is_meat_or_fish("spaghetti_sauce_without_meat")
