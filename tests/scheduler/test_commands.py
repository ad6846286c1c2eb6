"""``python -m scheduler process`` and ``foods``: what they print and the status they end with."""

from __future__ import annotations

import io
import json
import shutil
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest

from scheduler.__main__ import COMMANDS, main
from scheduler.caution import CAUTION

PACKAGE = Path(__file__).parents[2] / "scheduler"
APPLESAUCE = [
    "process",
    "applesauce",
    "--pack",
    "hot",
    "--jar",
    "pint",
    "--gauge",
    "boiling-water",
    "--altitude",
    "800",
]


def enter(*argv: str) -> tuple[int, str, str]:
    out, err = io.StringIO(), io.StringIO()
    status = main(argv, out, err)
    return status, out.getvalue(), err.getvalue()


def ask(
    food: str, jar: str, gauge: str, altitude: str, *more: str, pack: str = "hot"
) -> tuple[int, str, str]:
    return enter(
        "process", food, "--pack", pack, "--jar", jar, "--gauge", gauge, "--altitude", altitude, *more
    )


def test_the_answer_for_a_machine() -> None:
    """AIB 539 Guide 3 p. 3-9: tomatoes in water, weighted gauge, three lines up to 1,000 ft."""
    status, out, err = ask("tomatoes_whole_in_water", "pint", "weighted", "800", "--json")
    answer = json.loads(out)
    assert (status, err) == (0, "")
    assert list(answer) == ["food", "lines"]
    assert answer["food"] == "tomatoes_whole_in_water"
    third = answer["lines"][2]
    source = third.pop("source")
    assert source.startswith("USDA AIB 539 Guide 3 p. 3-9")
    assert third == {
        "method": "pressure_weighted",
        "pressure_psi": 15,
        "process_minutes": 1,
        "headspace_in": 0.5,
        "sterilise_jars": True,
        "acid": [
            {"acid": "bottled lemon juice", "amount": 1.0, "unit": "tbsp"},
            {"acid": "citric acid", "amount": 0.25, "unit": "tsp"},
        ],
        "confidence": "A",
        "schedulable": True,
    }
    assert [(line["pressure_psi"], line["process_minutes"]) for line in answer["lines"]] == [
        (5, 15),
        (10, 10),
        (15, 1),
    ]


def test_no_pressure_and_no_acid_are_null_and_an_empty_list() -> None:
    _, out, _ = enter(*APPLESAUCE, "--json")
    (line,) = json.loads(out)["lines"]
    assert (line["method"], line["pressure_psi"], line["acid"]) == ("boiling_water", None, [])


def test_a_row_seen_once_is_not_schedulable_unconfirmed() -> None:
    _, out, _ = ask("tomatoes_crushed", "pint", "weighted", "800", "--json")
    assert [(line["confidence"], line["schedulable"]) for line in json.loads(out)["lines"]] == [
        ("B", False)
    ] * 3


def test_the_answer_for_a_person_ends_with_the_caution() -> None:
    status, out, _ = ask("Tomatoes, crushed (no added liquid)", "half-pint", "weighted", "800")
    assert status == 0
    assert " ".join(out.split()).endswith(CAUTION)
    for said in (
        "half-pint jars: they take the process of the pint (rule S1)",
        "never one's time with another's pressure (rule S3)",
        "5 lb for 20 min",
        "headspace 1/2 in",
        "in each jar: 1 tbsp bottled lemon juice or 1/4 tsp citric acid",
        "confidence B, seen on one page",
        "USDA AIB 539 Guide 3 p. 3-7",
    ):
        assert said in out


def test_a_short_process_says_sterilise() -> None:
    _, out, _ = ask("apple_butter", "pint", "boiling_water", "0")
    assert "sterilise the jars first: the process is under 10 min (rule S14)" in out


def test_an_unpublished_combination_says_what_is_published() -> None:
    status, out, err = ask("fish_pint_jars", "quart", "dial", "800", pack="raw")
    assert (status, out) == (1, "")
    assert "dial-gauge pressure canner, raw pack, pint jars" in err
    status, out, err = ask("fish_pint_jars", "quart", "dial", "800", "--json", pack="raw")
    answer = json.loads(out)
    assert (status, err, answer["error"]) == (1, "", "no-published-process")
    assert answer["published"] == [
        "dial-gauge pressure canner, raw pack, pint jars",
        "weighted-gauge pressure canner, raw pack, pint jars",
    ]


def test_an_unknown_food_names_the_nearest() -> None:
    status, out, err = ask("aplesauce", "pint", "dial", "800")
    assert (status, out) == (1, "")
    assert "Applesauce (applesauce)" in err
    status, out, _ = ask("aplesauce", "pint", "dial", "800", "--json")
    answer = json.loads(out)
    assert (status, answer["error"], answer["nearest"][0]) == (1, "unknown-food", "applesauce")
    assert sorted(answer) == ["error", "message", "nearest", "remedy"]


@pytest.mark.parametrize("altitude", ["8001", "-1", "nan", "8000.5"])
def test_an_altitude_outside_the_bands_is_refused(altitude: str) -> None:
    status, out, _ = ask("applesauce", "pint", "boiling-water", altitude, "--json")
    assert (status, json.loads(out)["error"]) == (1, "altitude-out-of-range")


@pytest.mark.parametrize(
    ("argv", "said"),
    [
        (["process"], "required: food, --pack, --jar, --gauge, --altitude"),
        ([*APPLESAUCE, "--jar", "bucket"], "'bucket' is none of quarter_pint, half_pint"),
        ([*APPLESAUCE, "--gauge", "oven"], "'oven' is none of dial, weighted, boiling-water, steam"),
        ([*APPLESAUCE, "--altitude", "high"], "--altitude: invalid float value: 'high'"),
        ([*APPLESAUCE, "--pressure", "5"], "unrecognized arguments: --pressure 5"),
        (["foods", "beans"], "unrecognized arguments: beans"),
        (["can"], "usage: python -m scheduler COMMAND"),
        ([], "usage: python -m scheduler COMMAND"),
    ],
)
def test_wrong_usage_ends_with_status_2(argv: list[str], said: str) -> None:
    status, out, err = enter(*argv)
    assert (status, out) == (2, "")
    assert said in err


def test_wrong_usage_for_a_machine() -> None:
    status, out, err = enter("process", "applesauce", "--json")
    assert (status, err, json.loads(out)["error"]) == (2, "", "usage")


@pytest.mark.parametrize("argv", [["--help"], ["process", "--help"], ["foods", "-h"]])
def test_help_is_an_answer(argv: list[str]) -> None:
    status, out, err = enter(*argv)
    assert (status, err) == (0, "")
    assert out.startswith("usage: python -m scheduler")


def test_foods_are_listed_with_their_names_and_units() -> None:
    _, out, _ = enter("foods")
    assert len(out.splitlines()) == 100
    assert "Apples, sliced [jars, pounds, bushel]" in out
    _, out, _ = enter("foods", "--json")
    assert {
        "food": "soups_with_seafood",
        "name": "Soups containing seafood (table footnote)",
        "guide": 4,
        "units": ["jars"],
    } in (json.loads(out))


@pytest.mark.parametrize("name", COMMANDS)
def test_every_listed_command_is_there(name: str) -> None:
    assert callable(import_module(f"scheduler.commands.{name}").run)


def copied_package(tmp_path: Path) -> Path:
    shutil.copytree(PACKAGE, tmp_path / "scheduler", ignore=shutil.ignore_patterns("__pycache__"))
    return tmp_path


def start(folder: Path, *argv: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "scheduler", *argv]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False, timeout=60)


def test_the_program_runs_from_a_folder_with_a_space(tmp_path: Path) -> None:
    folder = tmp_path / "a kitchen"
    folder.mkdir()
    done = start(copied_package(folder), *APPLESAUCE, "--json")
    assert (done.returncode, done.stderr) == (0, "")
    assert json.loads(done.stdout)["lines"][0]["process_minutes"] == 15


def test_a_tampered_row_stops_the_program_with_a_clear_message(tmp_path: Path) -> None:
    folder = copied_package(tmp_path)
    table = folder / "scheduler" / "tables" / "processes.csv"
    content = table.read_bytes()
    table.write_bytes(
        content.replace(
            b"applesauce,boiling_water,hot,pint,0.5,15,", b"applesauce,boiling_water,hot,pint,0.5,10,"
        )
    )
    assert table.read_bytes() != content
    done = start(folder, *APPLESAUCE, "--json")
    answer = json.loads(done.stdout)
    assert (done.returncode, done.stderr, answer["error"]) == (1, "", "tables-damaged")
    assert answer["message"] == "The published table processes.csv is not the one that was checked in."
    assert done.returncode == start(folder, "foods").returncode
