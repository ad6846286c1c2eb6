"""Changes of a day: the edited day file reads as the changed day, and nothing but what the words say is other."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from pydantic import TypeAdapter

from scheduler.commands.bench_what_if import over_full_day
from scheduler.day_file import read_day
from scheduler.day_writing import day_toml, toml_text
from scheduler.digest import day_digest
from scheduler.generator import random_day
from scheduler.interval import Span
from scheduler.jars import JarSize, Pack
from scheduler.pace import Pace
from scheduler.problem import Day, Hands, Station, StationKind
from scheduler.wall_clock import wall_clock
from scheduler.what_if.change import Change, changed, edits_of
from scheduler.what_if.edits import Deed, Edit, edited
from scheduler.what_if.ladder import Changes, ladder
from scheduler.what_if.of_batch import AnotherDay, ArriveEarlier, NextDay, OtherJar, OtherPack, PickUpLater
from scheduler.what_if.of_kitchen import CloseLater, OneMorePerson
from scheduler.what_if.shared import batch_of
from tests.factories.days import make_day

DAYS = Path(__file__).parents[3] / "fixtures" / "days"


def through_the_file(day: Day, changes: Changes) -> Day:
    tables = tomllib.loads(day_toml(day))
    return read_day(toml_text(edited(tables, edits_of(day, changes))))


def every_choice(day: Day) -> list[Changes]:
    return [
        choice for batch in day.batches for rung in ladder(day, batch, late=True) for choice in rung.choices
    ]


@pytest.mark.parametrize("seed", range(1, 13))
def test_a_written_day_reads_as_the_same_day(seed: int) -> None:
    for day in (random_day(seed, "S"), over_full_day(seed)):
        assert day_digest(read_day(day_toml(day))) == day_digest(day)


def test_nothing_of_a_day_is_lost_in_writing() -> None:
    """A day with a value of its own in every field that has a default."""
    day = read_day((DAYS / "harvest.toml").read_text(encoding="utf-8"))
    assert day_digest(read_day(day_toml(day))) == day_digest(day)
    pace = Pace(heat_up=1.25, pressure_up=0.75, cool_down=1.5)
    pressure, pot = (
        next(one for one in day.canners if one.kind.is_pressure is wanted) for wanted in (True, False)
    )
    own = replace(
        pressure,
        own_counts={JarSize.PINT: 3},
        water_l=3.5,
        empty_mass_kg=4.25,
        own_heat_up_minutes=31,
        own_pressure_up_minutes=9,
        own_cool_down_minutes={JarSize.QUART: 90},
        pace=pace,
    )
    policy = replace(
        day.policy,
        canners_per_person=3,
        fill_wait_limit_minutes=15,
        cool_down_minutes=50,
        share_under_longest=True,
        cleaning_minutes=20,
        cooling_stand_minutes=800,
        meat_cut_off=900,
        loading_minutes=6,
        unloading_minutes=7,
        prep_hands=3,
        fill_hands=1,
        fill_pace=1.5,
        confirmed_processes=frozenset({"a", "b"}),
    )
    kettle = replace(day.kettles[0], burner_id=pot.burner_id)
    full = replace(day, canners=(own, replace(pot, service=())), policy=policy, kettles=(kettle,))
    assert day_digest(read_day(day_toml(full))) == day_digest(full)


def test_several_days_are_written_too() -> None:
    day = random_day(1, "XL")
    assert day_digest(read_day(day_toml(day))) == day_digest(day)


@pytest.mark.parametrize("day", [date(2026, 10, 31), date(2027, 3, 13)])
def test_every_minute_is_read_back_also_over_a_change_of_the_clocks(day: date) -> None:
    clock = wall_clock(day, "America/Denver")
    assert all(clock.minute(clock.written(minute)) == minute for minute in range(-60, 3 * 24 * 60))


@pytest.mark.parametrize("seed", [1, 5, 10])
def test_the_edited_file_reads_as_the_changed_day(seed: int) -> None:
    day = over_full_day(seed)
    first = replace(day.batches[0], pickup=day.horizon - 30)
    day = replace(day, batches=(first, *day.batches[1:]))
    choices = {repr(choice): choice for choice in every_choice(day)}.values()
    kinds = {change.kind for choice in choices for change in choice}
    wanted = (
        "pick-up-later",
        "arrive-earlier",
        "other-jar",
        "other-pack",
        "one-more-kettle",
        "one-more-table",
    )
    assert kinds == {*wanted, "one-more-person", "close-later", "another-day"}
    for choice in choices:
        assert day_digest(through_the_file(day, choice)) == day_digest(changed(day, choice))


def test_a_canner_out_of_service_at_closing_and_a_short_shift_stay_as_they_are() -> None:
    day = over_full_day(1)
    span = day.opening[0]
    early = Span(span.start, span.end - 90)
    day = replace(
        day,
        canners=(
            replace(day.canners[0], service=(early,)),
            replace(day.canners[1], service=()),
            *day.canners[2:],
        ),
        people=(replace(day.people[0], hours=(early,)), *day.people[1:]),
        stations=(
            Station(kind=StationKind.FILL, hands=(Hands(span=early, count=2),)),
            *(one for one in day.stations if one.kind is not StationKind.FILL),
        ),
    )
    later = (CloseLater(minutes=60),)
    after = changed(day, later)
    assert (after.horizon, after.canners[0].service, after.canners[1].service) == (
        span.end + 60,
        (early,),
        (),
    )
    assert after.people[0].hours == (early,)
    assert after.stations[0] == day.stations[0]
    assert any(one.hours[-1].end == span.end + 60 for one in after.people)
    assert day_digest(through_the_file(day, later)) == day_digest(after)
    assert day.people[0].name not in later[0].words(day)


def test_a_file_with_opens_and_closes_or_hands_all_day_can_be_edited_as_well() -> None:
    day = over_full_day(1)
    written = tomllib.loads(day_toml(day))
    hours = written["kitchen"].pop("hours")
    written["kitchen"] |= {"opens": hours[0]["from"], "closes": hours[0]["to"]}
    for station in written["station"]:
        station["hands"] = station.pop("hours")[0]["hands"]
    for choice in every_choice(day):
        edited_day = read_day(toml_text(edited(written, edits_of(day, choice))))
        assert day_digest(edited_day) == day_digest(changed(day, choice))


def test_pints_hold_what_the_quarts_held_and_the_work_stays() -> None:
    day = over_full_day(1)
    quarts = next(one for one in day.batches if one.jar is JarSize.QUART)
    pints = batch_of(OtherJar(batch_id=quarts.id, jar=JarSize.PINT).apply(day), quarts.id)
    assert pints.jars == 2 * quarts.jars
    work = quarts.jars * quarts.prep_person_minutes_per_jar
    assert pints.jars * pints.prep_person_minutes_per_jar == pytest.approx(work, rel=0.01)
    odd = replace(day, batches=(replace(quarts, jar=JarSize.PINT, jars=15),))
    assert batch_of(OtherJar(batch_id=quarts.id, jar=JarSize.QUART).apply(odd), quarts.id).jars == 8


def told(change: Change, day: Day) -> str:
    """The words, then the edits, a line each."""
    return "\n".join([change.words(day), *(edit.words for edit in change.edits(day))])


def test_the_words_and_the_edits_say_what_to_do() -> None:
    day = over_full_day(1)
    batch = next(one for one in day.batches if one.jar is JarSize.QUART and one.pack is Pack.HOT)
    named, work = f'[[batch]] "{batch.id}":', batch.prep_person_minutes_per_jar
    assert told(OtherJar(batch_id=batch.id, jar=JarSize.PINT), day) == (
        f"Use {2 * batch.jars} pint jars instead of {batch.jars} quart jars.\n"
        f'{named} jar = "pint"; amount = {2 * batch.jars}; unit = "jars"; '
        f"prep_person_minutes_per_jar = {work / 2}; kettle_minutes = 25"
    )
    assert told(OtherPack(batch_id=batch.id, pack=Pack.RAW), day) == (
        "Pack it raw instead of hot.\n"
        f'{named} pack = "raw"; prep_person_minutes_per_jar = {work}; kettle_minutes = 0'
    )
    assert told(ArriveEarlier(batch_id=batch.id, arrival=7 * 60 + 30), day) == (
        f'Bring the food at 07:30.\n{named} arrives = "07:30"'
    )
    assert told(PickUpLater(batch_id=batch.id, pickup=26 * 60), day) == (
        f'Pick the jars up at Sun 6 Sep 02:00.\n{named} pickup = "2026-09-06 02:00"'
    )
    assert told(AnotherDay(batch_id=batch.id), day) == (
        "Bring it on another day, for instance Sun 6 Sep, with the same hours, people and equipment and nothing else "
        f'to can.\n[kitchen] date = 2026-09-06\nof all [[batch]] only "{batch.id}"'
    )
    assert told(OneMorePerson(trained=True, hours=(Span(600, 720),)), day) == (
        "One more person trained for canners from 10:00 to 12:00.\n"
        'a new [[person]]: id = "one-more-1"; name = "One more"; trained = true; '
        'hours = [{ from = "10:00", to = "12:00" }]'
    )


def test_on_several_days_a_batch_can_come_a_day_later() -> None:
    day = random_day(1, "XL")
    first = next(one for one in day.batches if one.arrival < 24 * 60)
    change = NextDay(batch_id=first.id)
    assert batch_of(change.apply(day), first.id).arrival == first.arrival + 24 * 60
    assert day_digest(through_the_file(day, (change,))) == day_digest(change.apply(day))
    kinds = {one.kind for rung in ladder(day, first, late=False) for choice in rung.choices for one in choice}
    assert "next-day" in kinds
    assert "another-day" not in kinds


def test_another_day_has_free_tables_and_its_own_midnight() -> None:
    day = replace(make_day(), date=date(2026, 10, 31))
    other = AnotherDay(batch_id=day.batches[0].id).apply(day)
    assert [one.id for one in other.batches] == [day.batches[0].id]
    assert not any(table.taken for table in other.tables)
    assert (other.date, other.origin.isoformat()) == (date(2026, 11, 1), "2026-11-01T06:00:00+00:00")


def test_an_edit_of_an_unknown_entry_is_refused_and_the_tables_stay_as_they_were() -> None:
    tables = tomllib.loads(day_toml(over_full_day(1)))
    before = toml_text(tables)
    with pytest.raises(KeyError):
        edited(tables, [Edit(table="batch", entries=("nobody",), values=(("jar", '"pint"'),))])
    edited(tables, [Edit(table="batch", entries=(tables["batch"][0]["id"],), deed=Deed.KEEP_ONLY)])
    assert toml_text(tables) == before


def test_changes_are_kept_as_plain_values_and_read_back() -> None:
    day = over_full_day(1)
    adapter: TypeAdapter[Changes] = TypeAdapter(Changes)
    for choice in every_choice(day):
        assert adapter.validate_python(adapter.dump_python(choice, mode="json")) == choice
