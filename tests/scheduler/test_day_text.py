"""A planned day as text: the tiny day word for word, and what other days must say."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from scheduler.day_file import read_day
from scheduler.day_text import day_text, level_words
from scheduler.generator import random_day
from scheduler.judge import judge
from scheduler.plan import Level
from scheduler.plan_file import read_plan
from scheduler.planner import simple_rules
from scheduler.wall_clock import wall_clock

DAYS = Path(__file__).parents[2] / "fixtures" / "days"
DENVER = wall_clock(date(2026, 9, 5), "America/Denver")


def test_the_tiny_day_word_for_word() -> None:
    day = read_day((DAYS / "tiny.toml").read_text(encoding="utf-8"))
    plan = read_plan((DAYS / "tiny.json").read_text(encoding="utf-8"))
    assert judge(day, plan) == ()
    assert day_text(day, plan) == (DAYS / "tiny.txt").read_text(encoding="utf-8")


def test_a_harvest_day_says_reading_acid_reasons_and_the_gauge_that_is_overdue() -> None:
    day = read_day((DAYS / "harvest.toml").read_text(encoding="utf-8"))
    text = day_text(day, simple_rules(day)["first come"])
    for said in (
        "Old dial (dial-gauge pressure canner)\n  no load",
        "at a reading of 14 lb on the dial gauge",
        "in each jar: 1 tbsp bottled lemon juice or 1/4 tsp citric acid",
        "The dial gauge of Old dial was last checked on 30 August 2025",
        " hands\n",
    ):
        assert said in text


def test_every_left_out_jar_is_named_with_its_reason() -> None:
    day = random_day(3, "S")
    plan = next(plan for plan in simple_rules(day).values() if plan.left_out)
    text = " ".join(day_text(day, plan).split())
    for left in plan.left_out:
        assert " ".join(left.reason.split()) in text
        assert " ".join(left.remedy.split()) in text


def test_a_day_without_a_load_claims_nothing_but_what_is_left_out() -> None:
    text = (DAYS / "tiny.toml").read_text(encoding="utf-8").replace('"applesauce"', '"berry_jam"')
    day = read_day(text)
    said = day_text(day, simple_rules(day)["first come"])
    assert "HOW GOOD\njars left out: 8 jars; proven best (no process or no time)\nmade by: " in said
    assert "8 of 8 pint jars of Berry jam" in said


@pytest.mark.parametrize(
    ("level", "words"),
    [
        (("loads", 3, 3, "loads"), "loads: 3 loads; proven best (why)"),
        (("loads", 1, 1, "loads"), "loads: 1 load; proven best (why)"),
        (("loads", 4, 3, "loads"), "loads: 4 loads; proven not below 3 (why), gap 25.0%"),
        (("lateness", 4, 0, "minutes"), "lateness: 4 minutes; no bound above 0 is proven (why), gap 100.0%"),
        (
            ("last jar out", 600, 540, "minutes since the day's origin"),
            "last jar out: 10:00; proven not before 09:00 (why), gap 10.0%",
        ),
        (
            ("last jar out", 600, 600, "minutes since the day's origin"),
            "last jar out: 10:00; proven best (why)",
        ),
    ],
)
def test_a_level_in_words(level: tuple[str, int, int, str], words: str) -> None:
    name, value, bound, unit = level
    assert (
        level_words(Level(name=name, value=value, bound=bound, bound_name="why", unit=unit), DENVER) == words
    )


@pytest.mark.parametrize(
    ("minute", "words"),
    [(0, "00:00"), (570, "09:30"), (1440, "Sun 6 Sep 00:00"), (-1, "Fri 4 Sep 23:59")],
)
def test_a_minute_on_the_wall(minute: int, words: str) -> None:
    assert DENVER.words(minute) == words


def test_an_hour_that_comes_twice_names_its_zone() -> None:
    """1 November 2026, Denver: 01:30 comes first in MDT, an hour later in MST."""
    clock = wall_clock(date(2026, 11, 1), "America/Denver")
    assert [clock.words(minute) for minute in (30, 90, 150, 210)] == [
        "00:30",
        "01:30 MDT",
        "01:30 MST",
        "02:30",
    ]
    assert clock.span_words(90, 150) == "01:30 MDT to 01:30 MST"
