"""``python -m kitchen`` as a person or a service manager starts it."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from pathlib import Path

PROJECT = Path(__file__).resolve().parent.parent.parent


def kitchen(data: Path, *arguments: str, **variables: str) -> subprocess.CompletedProcess[str]:
    """Run one command with nothing of the caller's set-up."""
    ours = {name: value for name, value in os.environ.items() if not name.startswith(("KITCHEN_", "DJANGO_"))}
    return subprocess.run(
        [sys.executable, "-m", "kitchen", *arguments],
        cwd=PROJECT,
        env=ours
        | {"KITCHEN_DATA": str(data)}
        | {f"KITCHEN_{name}": value for name, value in variables.items()},
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )


def test_the_first_command_makes_the_data_folder(tmp_path: Path) -> None:
    run = kitchen(tmp_path / "my data", "check")
    assert (run.returncode, run.stderr) == (0, "")
    assert stat.S_IMODE((tmp_path / "my data" / "secret_key").stat().st_mode) == 0o600


def test_a_refusal_is_two_lines_and_a_status(tmp_path: Path) -> None:
    run = kitchen(tmp_path, "check", HTTPS="1")
    assert run.returncode == 1
    assert run.stderr.splitlines() == [
        "KITCHEN_HTTPS is set, but no host has a name.",
        "Set KITCHEN_HOSTS to the name in the browser, like kitchen.example.",
    ]


def test_production_passes_the_deployment_check(tmp_path: Path) -> None:
    run = kitchen(
        tmp_path, "check", "--deploy", "--fail-level", "WARNING", HTTPS="1", HOSTS="kitchen.example"
    )
    assert (run.returncode, run.stderr) == (0, "")


def test_the_embedded_kitchen_is_told_apart_by_the_deployment_check(tmp_path: Path) -> None:
    run = kitchen(tmp_path, "check", "--deploy", "--fail-level", "WARNING")
    assert run.returncode == 1
    assert "security.W008" in run.stderr


def test_a_loose_key_stops_the_start(tmp_path: Path) -> None:
    kitchen(tmp_path, "check")
    (tmp_path / "secret_key").chmod(0o644)
    run = kitchen(tmp_path, "check")
    assert run.returncode == 1
    assert "chmod 600" in run.stderr


def test_others_cannot_reach_a_kitchen_without_a_name(tmp_path: Path) -> None:
    run = kitchen(tmp_path, "serve", LISTEN="0.0.0.0", PORT="9")  # noqa: S104  (what must be refused)
    assert run.returncode == 1
    assert "KITCHEN_HOSTS" in run.stderr


def test_a_day_that_is_not_there_is_told_without_a_trace(tmp_path: Path) -> None:
    run = kitchen(tmp_path, "check-day", EMPTY="1")
    assert run.returncode == 1
    assert run.stderr
    assert "Traceback" not in run.stderr


def test_serve_takes_no_arguments(tmp_path: Path) -> None:
    run = kitchen(tmp_path, "serve", "--port", "9000")
    assert run.returncode == 1
    assert "KITCHEN_" in run.stderr
