"""The day as a chart: all of the plan is in its rows, and the picture is safe to put on a page."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import pytest

from scheduler.chart import chart_svg
from scheduler.chart_rows import Row, RowKind, chart_rows
from scheduler.cycle import PhaseKind
from scheduler.day_file import read_day
from scheduler.generator import Size, random_day
from scheduler.plan import Plan, TaskKind
from scheduler.plan_file import read_plan
from scheduler.planner import simple_rules
from scheduler.problem import Day

DAYS = Path(__file__).parents[2] / "fixtures" / "days"
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def tiny() -> tuple[Day, Plan]:
    return (
        read_day((DAYS / "tiny.toml").read_text(encoding="utf-8")),
        read_plan((DAYS / "tiny.json").read_text(encoding="utf-8")),
    )


@pytest.fixture(scope="module")
def busy() -> tuple[Day, Plan]:
    day = random_day(1, Size.M)
    return day, simple_rules(day)["first come"]


def test_the_rows_of_the_tiny_day(tiny: tuple[Day, Plan]) -> None:
    canner, *others = chart_rows(*tiny)
    assert (canner.kind, canner.name) == (RowKind.CANNER, "Blue pot")
    assert [(bar.what, bar.start, bar.end) for bar in canner.bars] == [
        (TaskKind.FILL, 537, 546),
        (PhaseKind.LOADING, 546, 551),
        (PhaseKind.HEAT_UP, 551, 571),
        (PhaseKind.PROCESS, 571, 586),
        (PhaseKind.REST, 586, 591),
        (PhaseKind.UNLOADING, 591, 596),
    ]
    assert {bar.text for bar in canner.bars} == {"8 pint applesauce"}
    assert [(row.kind, row.name, len(row.bars)) for row in others] == [
        (RowKind.STATION, "prep", 1),
        (RowKind.STATION, "kettle", 1),
        (RowKind.STATION, "fill", 1),
        (RowKind.STATION, "jars out", 1),
        (RowKind.PERSON, "Wren", 5),
    ]


def test_the_rows_hold_everything_that_is_planned(busy: tuple[Day, Plan]) -> None:
    day, plan = busy
    rows = chart_rows(day, plan)
    of_canners = [bar for row in rows if row.kind is RowKind.CANNER for bar in row.bars]
    phases = [bar for bar in of_canners if isinstance(bar.what, PhaseKind)]
    assert len(phases) == sum(len(load.phases) for load in plan.loads) > 0
    stations = [bar for row in rows if row.kind is RowKind.STATION for bar in row.bars]
    assert len(stations) == sum(task.kind is not TaskKind.WATCH for task in plan.tasks) > 0
    people = [bar for row in rows if row.kind is RowKind.PERSON for bar in row.bars]
    assert len(people) == len(plan.assignments) > 0
    assert [row.id for row in rows if row.kind is RowKind.PERSON] == [person.id for person in day.people]


def test_no_two_bars_of_a_lane_overlap(busy: tuple[Day, Plan]) -> None:
    rows = chart_rows(*busy)
    assert max(row.lanes for row in rows) > 1
    for row in rows:
        for lane in range(row.lanes):
            bars = [bar for bar in row.bars if bar.lane == lane]
            assert bars
            assert all(one.end <= after.start for one, after in pairwise(bars))


def test_an_idle_row_has_one_lane() -> None:
    assert Row(kind=RowKind.CANNER, id="a", name="A", bars=()).lanes == 1


def test_the_picture_passes_a_content_policy_and_names_itself(busy: tuple[Day, Plan]) -> None:
    text = chart_svg(*busy)
    root = ElementTree.fromstring(text)  # noqa: S314 - our own picture.
    assert root.tag == f"{SVG}svg"
    assert root.get("role") == "img"
    assert re.fullmatch(r"0 0 \d+ \d+", root.get("viewBox", ""))
    ids = [node.get("id") for node in root.iter() if node.get("id")]
    assert len(ids) == len(set(ids))
    assert set((root.get("aria-labelledby") or "").split()) <= set(ids)
    for node in root.iter():
        assert node.tag != f"{SVG}script"
        assert not [
            name for name in node.attrib if name == "style" or name.startswith("on") or "href" in name
        ]


def test_every_bar_says_in_words_what_it_is(tiny: tuple[Day, Plan]) -> None:
    root = ElementTree.fromstring(chart_svg(*tiny))  # noqa: S314 - our own picture.
    bars = [node for node in root.iter(f"{SVG}g") if (node.get("class") or "").startswith("day-chart-bar")]
    titles = [bar.findtext(f"{SVG}title") for bar in bars]
    assert len(titles) == sum(len(row.bars) for row in chart_rows(*tiny))
    assert "Blue pot: process, 09:31 to 09:46, 8 pint applesauce" in titles
    assert "Wren: watch, 09:11 to 09:46, 8 pint applesauce" in titles


def test_every_kind_of_bar_has_a_look_of_its_own_without_colour() -> None:
    """The eight phases of a pressure canner all differ in pattern; the process alone is plain, and dark."""
    from_text = chart_svg(*_everything())
    root = ElementTree.fromstring(from_text)  # noqa: S314 - our own picture.
    strokes: dict[str, str] = {}
    for pattern in root.iter(f"{SVG}pattern"):
        path = pattern.find(f"{SVG}path")
        assert path is not None
        strokes[pattern.get("id", "")] = path.get("d", "")
    phases = [strokes[f"day-chart-{kind}"] for kind in PhaseKind]
    assert len(set(phases)) == len(phases)


def _everything() -> tuple[Day, Plan]:
    day = random_day(2, Size.S)
    return day, simple_rules(day)["earliest due"]


def test_names_that_could_break_a_page_are_made_harmless(tiny: tuple[Day, Plan]) -> None:
    day, plan = tiny
    canner = replace(day.canners[0], name='<script>&"\x01')
    text = chart_svg(replace(day, canners=(canner,), kitchen="A & B\ud800"), plan)
    root = ElementTree.fromstring(text)  # noqa: S314 - our own picture.
    assert root.findtext(f"{SVG}title") == "A & B, Sat 5 Sep 2026: the planned day"
    assert "<script" not in text


def test_hours_follow_the_clock_on_the_wall_through_its_change() -> None:
    """1 November 2026, Denver: the hour after 01:00 is 01:00 again."""
    text = (DAYS / "tiny.toml").read_text(encoding="utf-8").replace("2026-09-05", "2026-11-01")
    day = read_day(text.replace('opens = "08:00"', 'opens = "00:00"'))
    svg = chart_svg(day, simple_rules(day)["first come"])
    labels = re.findall(r'class="day-chart-hour-label">([^<]*)<', svg)[::2]
    assert labels[:5] == ["00:00", "01:00", "01:00", "02:00", "03:00"]
    assert labels[-1] == "12:00"


def test_a_day_of_several_days_shows_closed_hours_and_dates() -> None:
    text = (DAYS / "tiny.toml").read_text(encoding="utf-8")
    spans = '{ from = "08:00", to = "12:00" }, { from = "2026-09-06 08:00", to = "2026-09-06 12:00" }'
    day = read_day(text.replace('opens = "08:00"\ncloses = "12:00"', f"hours = [{spans}]"))
    svg = chart_svg(day, simple_rules(day)["first come"])
    assert svg.count('class="day-chart-closed"') == 1
    assert ">Sun 6<" in svg


def test_a_plan_without_loads_is_still_a_picture(tiny: tuple[Day, Plan]) -> None:
    day, plan = tiny
    empty = replace(plan, loads=(), tasks=(), assignments=())
    svg = chart_svg(day, empty)
    ElementTree.fromstring(svg)  # noqa: S314 - our own picture.
    assert "no load" in svg
    assert "nothing planned" in svg
