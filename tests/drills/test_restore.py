"""Backups under writes, restored elsewhere, on a small scale."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from kitchen.bench.processes import PROJECT


@pytest.mark.postgres  # Starts the program a dozen times; on SQLite the backup's own tests must do.
def test_what_is_restored_is_what_was_there(tmp_path: Path) -> None:
    small = ("--reminders", "5", "--writers", "1", "--backups", "1")
    made = subprocess.run(
        [sys.executable, "-m", "kitchen", "drill", "restore", *small],
        cwd=PROJECT,
        env={**os.environ, "KITCHEN_DATA": str(tmp_path), "DJANGO_SETTINGS_MODULE": "kitchen.settings"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert made.returncode == 0, made.stdout + made.stderr
    assert [line.split()[0] for line in made.stdout.splitlines()].count("kept") == 10
