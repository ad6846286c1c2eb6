"""Reading a day file: what it means, and that everything wrong is refused with its line and a remedy."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.canner import GAS_EFFICIENCY, Canner, check_gauge
from scheduler.canner_kind import CannerKind
from scheduler.day_file import MOST_LETTERS, read_day, schema
from scheduler.day_tables import DayTables
from scheduler.errors import BadDayFile, CannerOutOfService
from scheduler.interval import Span
from scheduler.jars import JarSize, Pack
from scheduler.problem import Batch, Hands, Kettle, Person, Policy, StationKind
from scheduler.toml_lines import TomlLines

DAYS = Path(__file__).parents[2] / "fixtures" / "days"

PLAIN = """\
[kitchen]
name = "Mill Kitchen"
altitude_ft = 1500
time_zone = "America/Denver"
date = 2026-09-05
opens = "08:00"
closes = "18:00"

[policy]
cool_down_minutes = 45
meat_cut_off = "16:00"

[[burner]]
id = "front"
power_w = 3500

[[canner]]
id = "pot"
kind = "boiling-water"
inside_diameter_in = 12.5
inside_depth_in = 10.5
burner = "front"
own_counts = { pint = 9 }
out_of_service = [
  { from = "12:00", to = "13:00" },
]

[[kettle]]
id = "kettle"
volume_qt = 12

[[station]]
kind = "prep"
hands = 2

[[station]]
kind = "fill"
hours = [
  { from = "08:00", to = "12:00", hands = 2 },
  { from = "12:00", to = "18:00", hands = 1 },
]

[[table]]
id = "table"
area_sq_in = 1000

[[person]]
id = "wren"
trained = true

[[person]]
id = "finch"
under_16 = true
hours = [{ from = "09:00", to = "12:00" }]

[[batch]]
id = "sauce"
member = "Rowan"
food = "applesauce"
pack = "hot"
jar = "pint"
amount = 1
unit = "bushel"
arrives = "08:30"
pickup = "17:00"
"""


def refusal(text: str) -> tuple[int | None, str, str]:
    with pytest.raises(BadDayFile) as caught:
        read_day(text)
    return caught.value.line, caught.value.message, caught.value.remedy


def line_of(part: str, text: str = PLAIN) -> int:
    return text[: text.index(part)].count("\n") + 1


def changed(old: str, new: str) -> str:
    assert PLAIN.count(old) == 1, f"{old!r} must stand once in the plain day"
    return PLAIN.replace(old, new)


def test_a_day_is_read_whole() -> None:
    """Applesauce: 14 to 19 quarts a bushel (AIB 539 Guide 2 p. 2-7), so 38 pints at the upper end."""
    day = read_day(PLAIN)
    assert (day.kitchen, day.altitude_ft, day.date) == ("Mill Kitchen", 1500, date(2026, 9, 5))
    assert day.origin == datetime(2026, 9, 5, 6, tzinfo=UTC)
    assert day.opening == (Span(480, 1080),)
    assert day.policy == Policy(cool_down_minutes=45, meat_cut_off=960)
    assert [(one.id, one.name, one.power_w, one.efficiency) for one in day.burners] == [
        ("front", "front", 3500, GAS_EFFICIENCY)
    ]
    assert day.canners == (
        Canner(
            id="pot",
            name="pot",
            kind=CannerKind.BOILING_WATER,
            inside_diameter_in=12.5,
            inside_depth_in=10.5,
            burner_id="front",
            service=(Span(480, 720), Span(780, 1080)),
            own_counts={JarSize.PINT: 9},
        ),
    )
    assert day.kettles == (Kettle(id="kettle", name="kettle", volume_qt=12.0),)
    assert [(one.kind, one.hands) for one in day.stations] == [
        (StationKind.PREP, (Hands(span=Span(480, 1080), count=2),)),
        (StationKind.FILL, (Hands(span=Span(480, 720), count=2), Hands(span=Span(720, 1080), count=1))),
    ]
    assert day.people == (
        Person(id="wren", name="wren", hours=(Span(480, 1080),), trained=True),
        Person(id="finch", name="finch", hours=(Span(540, 720),), under_16=True),
    )
    assert day.batches == (
        Batch(
            id="sauce",
            member="Rowan",
            food_id="applesauce",
            pack=Pack.HOT,
            jar=JarSize.PINT,
            jars=38,
            arrival=510,
            pickup=1020,
            prep_person_minutes_per_jar=4.0,
            kettle_minutes=25,
        ),
    )


@pytest.mark.parametrize("name", ["tiny", "applesauce", "harvest"])
def test_the_example_days_are_read(name: str) -> None:
    assert read_day((DAYS / f"{name}.toml").read_text(encoding="utf-8")).batches


def test_the_kitchens_own_work_replaces_the_usual() -> None:
    own = changed(
        'pickup = "17:00"\n', 'pickup = "17:00"\nprep_person_minutes_per_jar = 0\nkettle_minutes = 40\n'
    )
    (batch,) = read_day(own).batches
    assert (batch.prep_person_minutes_per_jar, batch.kettle_minutes) == (0, 40)


def test_several_days_and_spans() -> None:
    text = changed(
        'opens = "08:00"\ncloses = "18:00"\n',
        'hours = [{ from = "08:00", to = "20:00" }, { from = "2026-09-06 08:00", to = "2026-09-06 24:00" }]\n',
    )
    assert read_day(text).opening == (Span(480, 1200), Span(1920, 2880))


def test_minutes_are_elapsed_minutes_across_a_change_of_the_clocks() -> None:
    """1 November 2026 in Denver: 02:00 MDT becomes 01:00 MST, so 08:00 is nine hours after midnight."""
    day = read_day(changed("date = 2026-09-05", "date = 2026-11-01"))
    assert day.origin == datetime(2026, 11, 1, 6, tzinfo=UTC)
    assert day.opening == (Span(540, 1140),)


def test_an_overdue_dial_gauge_is_no_fault_of_the_file() -> None:
    day = read_day((DAYS / "harvest.toml").read_text(encoding="utf-8"))
    overdue = next(canner for canner in day.canners if canner.id == "old-dial")
    with pytest.raises(CannerOutOfService):
        check_gauge(overdue, day.date)


def test_a_batch_whose_only_rows_were_seen_once_is_left_to_the_planner() -> None:
    """Berry jam's rows are of confidence B: whether they may run is the lead's to say, not the file's."""
    text = changed('food = "applesauce"', 'food = "berry_jam"').replace(
        'amount = 1\nunit = "bushel"', "amount = 8"
    )
    assert read_day(text).batches[0].food_id == "berry_jam"


WRONG = [
    # The file as such.
    ('name = "Mill Kitchen"', 'name = "Mill Kitchen', None, "This is not TOML: ", 'text in "quotes"'),
    ("[[kettle]]", "[[kettle]", None, "This is not TOML: ", "each [table] once"),
    ("volume_qt = 12", "volum_qt = 12", None, "[[kettle]] 1 has no key 'volum_qt'.", "Did you mean 'volume_qt'?"),
    (
        "inside_diameter_in = 12.5",
        "diametre = 12.5",
        None,
        "[[canner]] 1 has no key 'diametre'.",
        "Did you mean 'inside_diameter_in'?",
    ),
    ("trained = true", "zzz = true", None, "[[person]] 1 has no key 'zzz'.", "Known here: id, name, hours,"),
    ("[[kettle]]", "[[kettel]]", None, "The file has no key 'kettel'.", "Did you mean 'kettle'?"),
    ("[[table]]", "[table]", None, "table is not written as a table.", "Begin it with a line [[table]]."),
    ("power_w = 3500\n", "\n", '[[burner]]', "[[burner]] 1 has no power_w.", "Add a line power_w = ... to it."),
    # Values of the wrong kind.
    (
        "altitude_ft = 1500",
        'altitude_ft = "high"',
        None,
        "altitude_ft of [kitchen] is 'high'.",
        "Write a number, without quotes.",
    ),
    ("altitude_ft = 1500", "altitude_ft = nan", None, "altitude_ft of [kitchen] is nan.", "an ordinary number"),
    ("own_counts = { pint = 9 }", "own_counts = 9", None, "own_counts of [[canner]] 1 is 9.", "{ pint = 8 }"),
    ('closes = "18:00"', 'closes = "9999-12-31 23:59"', None, "is not a time of our days.", 'Write "09:30"'),
    ("power_w = 3500", "power_w = 3500.5", None, "power_w of [[burner]] 1 is 3500.5.", "Write a whole number"),
    ("trained = true", "trained = 1", None, "trained of [[person]] 1 is 1.", "Write true or false"),
    ("date = 2026-09-05", 'date = "5 Sep"', None, "date of [kitchen] is '5 Sep'.", "Write a date without quotes"),
    ("arrives = \"08:30\"", "arrives = 08:30:00", None, "arrives of [[batch]] 1 is 08:30:00.", 'a time as "09:30"'),
    ('jar = "pint"', 'jar = "bucket"', None, "'bucket' is not known as jar of [[batch]] 1.", "Choose one of quarter"),
    (
        "own_counts = { pint = 9 }",
        "own_counts = { pnt = 9 }",
        None,
        "'pnt' is not known as a key of [[canner]] 1, own_counts.",
        "Choose one of quarter_pint,",
    ),
    ('id = "sauce"', 'id = "apple sauce"', None, "id of [[batch]] 1 is 'apple sauce'.", "without spaces"),
    # Times.
    ('opens = "08:00"', 'opens = "8"', None, "'8' is not a time.", 'Write "09:30"'),
    ('opens = "08:00"', 'opens = "08:60"', None, "'08:60' is not a time.", 'Write "09:30"'),
    (
        'closes = "18:00"',
        'closes = "07:00"',
        None,
        "The kitchen would close at 07:00, not after it opens at 08:00.",
        "Close it later",
    ),
    ('closes = "18:00"\n', "", "[kitchen]", "[kitchen] does not say when it is open.", 'Add opens = "08:00"'),
    (
        'pickup = "17:00"',
        'pickup = "08:30"',
        None,
        "Batch sauce would be picked up at 08:30, not after it arrives at 08:30.",
        "Set the pick-up after the arrival.",
    ),
    ('pickup = "17:00"', 'pickup = "2027-09-05 17:00"', None, "2027-09-05 17:00 is far from the day", "Check"),
    (
        '{ from = "12:00", to = "13:00" }',
        '{ from = "13:00", to = "12:00" }',
        None,
        "This ends at 12:00, not after it begins at 13:00.",
        "Let it end later",
    ),
    (
        '{ from = "12:00", to = "18:00", hands = 1 }',
        '{ from = "11:00", to = "18:00", hands = 1 }',
        None,
        "11:00 to 18:00 overlaps another span of the same list.",
        "Give each minute once.",
    ),
    ("date = 2026-09-05", "date = 1026-09-05", None, "The date is 1026-09-05.", "Give a year from 2000 to 2100."),
    (
        'time_zone = "America/Denver"',
        'time_zone = "Mountain"',
        None,
        "No time zone is called 'Mountain'.",
        "Use a name of the time zone database",
    ),
    # What contradicts itself or the published tables.
    (
        "altitude_ft = 1500",
        "altitude_ft = 9000",
        None,
        "The altitude is 9000 ft; the published bands used here run from 0 to 8,000 ft.",
        "Check the kitchen's altitude in feet",
    ),
    ('burner = "front"', 'burner = "frnt"', None, "There is no burner 'frnt'.", "Name one of front,"),
    ("power_w = 3500", "power_w = 12", "[[burner]]", "Burner front is given 12 W.", "Give its power in watts"),
    (
        "inside_depth_in = 10.5",
        "inside_depth_in = 99",
        "[[canner]]",
        "pot is given as inside depth 99.0 in.",
        "Measure it: 2 to 40 in.",
    ),
    ('id = "finch"', 'id = "wren"', 'id = "wren"\nunder_16', "There are two [[person]] with id 'wren'.", "its own"),
    ('kind = "fill"', 'kind = "prep"', 'kind = "prep"\nhours', "two [[station]] with kind 'prep'.", "station once."),
    ("hands = 2\n", "", "[[station]]", "The station prep needs either hands or hours.", "Give hands = 2"),
    (
        "trained = true",
        "trained = true\nunder_16 = true",
        "under_16 = true",
        "wren is under 16 and marked as trained or learning for canners.",
        "take one of the two marks away",
    ),
    (
        "cool_down_minutes = 45",
        "cool_down_minutes = 10",
        None,
        "The policy cool_down_minutes is 10.",
        "Set it between 20 and 240",
    ),
    ("amount = 1\n", "amount = 0\n", None, "The amount is 0.0.", "Give a number above zero."),
    ("amount = 1\n", "amount = 10000\n", None, "Batch sauce asks for 380000 jars.", "from 1 to 2000"),
    ('unit = "bushel"', 'unit = "crate"', None, "No yield is published for Applesauce by crate.", "Give it in jars"),
    ('food = "applesauce"', 'food = "aplesauce"', None, "No food is called 'aplesauce'", "Nearest: Applesauce"),
    (
        'jar = "pint"',
        'jar = "half_gallon"',
        None,
        "Applesauce, hot pack, half-gallon jars, boiling-water canner: this jar is not published",
        "Published for it: boiling-water canner, hot pack, pint or quart jars; dial-gauge",
    ),
    ('pack = "hot"', 'pack = "raw"', 'jar = "pint"', "this pack is not published for this canner", "Published for it:"),
    ('food = "applesauce"', 'food = "snap_beans"', 'jar = "pint"', "it is a low-acid food", "Published for it:"),
    (
        "inside_depth_in = 10.5\nburner = \"front\"\nown_counts = { pint = 9 }",
        'inside_depth_in = 5\nburner = "front"',
        'jar = "pint"',
        "Applesauce, hot pack, pint jars: every canner that may run this is too small for the jar.",
        "Choose a smaller published jar",
    ),
]  # fmt: skip


@pytest.mark.parametrize(
    ("old", "new", "at", "said", "remedy"), WRONG, ids=[str(one[3])[:50] for one in WRONG]
)
def test_what_is_wrong_is_refused_with_its_line(
    old: str, new: str, at: str | None, said: str, remedy: str
) -> None:
    text = changed(old, new)
    line, message, advice = refusal(text)
    expected = line_of(at or new, text)
    assert (line, message.split(": ", 1)[0]) == (expected, f"Line {expected}")
    assert said in message
    assert remedy in advice


# What a hand may write after an equals sign: other types, numbers and times that no kitchen has, half a table.
_ODD_VALUES = st.sampled_from(
    [
        *(
            "0",
            "-1",
            "1e400",
            "nan",
            "-inf",
            "99999999999999999999",
            "true",
            "[]",
            "{}",
            "[[1]]",
            "[",
            "]",
            "}",
            "=",
        ),
        *('""', '"x"', '"UTC"', '"America"', '"\\u0000"', "1979-05-27", "07:32:00", "1979-05-27T07:32:00Z"),
        *('"24:00"', '"0001-01-01 00:00"', '"9999-12-31 23:59"', '"07:00 +99:99"'),
    ]
)


@given(changes=st.lists(st.tuples(st.integers(0, 300), st.none() | _ODD_VALUES), min_size=1, max_size=3))
@settings(max_examples=300)
def test_whatever_is_written_is_read_or_refused_with_a_line(changes: list[tuple[int, str | None]]) -> None:
    """Lines of the plain day are given another value, or are said twice."""
    written = PLAIN.splitlines()
    for at, value in changes:
        place = at % len(written)
        line = written[place]
        if value is None:
            written.insert(place, line)
        elif "=" in line:
            written[place] = f"{line.split('=')[0]}= {value}"
    refused: BadDayFile | None = None
    try:
        read_day("\n".join(written))
    except BadDayFile as error:
        refused = error
    if refused is not None:
        assert refused.line is not None
        assert 1 <= refused.line <= len(written) + 1
        assert refused.message.startswith(f"Line {refused.line}: ")
        assert refused.remedy


def test_ten_thousand_jars_are_refused() -> None:
    text = changed('amount = 1\nunit = "bushel"', "amount = 10_000")
    assert refusal(text)[:2] == (
        line_of("amount", text),
        f"Line {line_of('amount', text)}: Batch sauce asks for 10000 jars.",
    )


@pytest.mark.parametrize(
    ("day", "time", "said", "remedy"),
    [
        ("2026-03-08", "02:30", "02:30 does not exist on 2026-03-08", "before or after the change"),
        ("2026-11-01", "01:30", "01:30 comes twice that day", '"01:30 -06:00" or "01:30 -07:00"'),
    ],
)
def test_a_time_that_a_change_of_the_clocks_makes_doubtful(
    day: str, time: str, said: str, remedy: str
) -> None:
    text = changed("date = 2026-09-05", f"date = {day}").replace('arrives = "08:30"', f'arrives = "{time}"')
    line, message, advice = refusal(text)
    assert line == line_of("arrives", text)
    assert said in message
    assert remedy in advice


def test_a_doubtful_time_with_its_offset_is_read() -> None:
    text = changed("date = 2026-09-05", "date = 2026-11-01")
    for written, minute in (("01:30 -06:00", 90), ("01:30 -07:00", 150)):
        assert read_day(text.replace("08:30", written)).batches[0].arrival == minute


def test_a_file_without_batches_and_an_empty_file() -> None:
    assert refusal(PLAIN[: PLAIN.index("[[batch]]")])[1] == "Line 1: The file has no batch."
    assert refusal("")[0] == 1


def test_a_file_far_too_long_is_not_even_parsed() -> None:
    assert refusal("#" * (MOST_LETTERS + 1))[1] == "Line 1: The file is too long for a day."


def test_the_first_fault_in_the_file_is_named() -> None:
    text = changed("volume_qt = 12", "volume = 12").replace("altitude_ft = 1500", "altitude = 1500")
    assert refusal(text)[0] == line_of("altitude", text)


def test_lines_are_found_through_strings_comments_and_nested_tables() -> None:
    lines = TomlLines(
        '[kitchen] # [[batch]]\nname = "a # [ b"\nnote = """\n[[batch]]\n"""\n[[batch]]\nid = "x"\n'
        "[batch.more]\nid.deep = 1\n[[batch]]\nspans = [\n  { from = 1 },\n  { from = 2 }, ]\nid = 'y'\n"
    )
    assert [
        lines.line(path)
        for path in (
            ("kitchen", "name"),
            ("batch", 0),
            ("batch", 0, "id"),
            ("batch", 0, "more", "id", "deep"),
            ("batch", 1),
            ("batch", 1, "spans", 1, "from"),
            ("batch", 1, "id"),
            ("nothing",),
        )
    ] == [2, 6, 7, 9, 10, 13, 14, 1]


def test_the_schema_knows_every_table_and_refuses_unknown_keys() -> None:
    described = schema()
    assert described["additionalProperties"] is False
    properties = described["properties"]
    assert isinstance(properties, dict)
    assert list(properties) == list(DayTables.model_fields)
    assert described["required"] == ["kitchen", "burner", "canner", "batch"]
