"""The table of security in DEVELOPERS.md names tests that there are."""

from __future__ import annotations

import re
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]
NAMED = re.compile(r"`((?:tests|kitchen|deploy)/[\w/.]+)(?:::(\w+))?`")


def lines() -> list[str]:
    text = (PROJECT / "DEVELOPERS.md").read_text().partition("## Security, line by line")[2]
    return [line for line in text.partition("## Decisions")[0].splitlines() if re.match(r"\| \d", line)]


def test_whatever_shows_a_line_is_there() -> None:
    for line in lines():
        for file, test in NAMED.findall(line):
            path = PROJECT / file
            assert path.exists(), line
            assert not test or f"def {test}(" in path.read_text(), f"{file} has no {test}"


def test_each_requirement_stands_there_once_with_what_shows_it() -> None:
    numbers = [number for line in lines() for number in line.split("|")[1].replace(" ", "").split(",")]
    assert len(numbers) == len(set(numbers))
    assert all(line.split("|")[3].strip() for line in lines())
