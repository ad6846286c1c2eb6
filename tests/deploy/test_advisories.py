"""Known flaws fail, and an auditor that could not look anything up is no success."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.deploy.waiting import PROJECT

CLEAN = {"name": "alder", "version": "1.0", "vulns": []}
FLAWED = {"name": "birch", "version": "2.1", "vulns": [{"id": "PYSEC-2026-1", "fix_versions": ["2.2"]}]}
SKIPPED = {"name": "cedar", "skip_reason": "Dependency not found and could not be audited: cedar (3.0)"}


def auditor(folder: Path, **answers: object) -> str:
    """A program that answers for each service as pip-audit would; without an answer it says nothing and fails."""
    program = folder / "auditor"
    told = {name: json.dumps({"dependencies": found, "fixes": []}) for name, found in answers.items()}
    program.write_text(
        f"#!{sys.executable}\nimport sys\n"
        f"told = {told!r}.get(sys.argv[2])\n"
        "assert sys.argv[-1] == 'list.txt' and '--require-hashes' in sys.argv\n"
        "sys.exit('cannot be reached') if told is None else print(told)\n"
    )
    program.chmod(0o755)
    return str(program)


@pytest.mark.parametrize(
    ("answers", "code", "words"),
    [
        ({"pypi": [CLEAN, CLEAN]}, 0, "pypi: 2 releases, none with a known flaw."),
        ({"pypi": [CLEAN, FLAWED]}, 1, "pypi: birch 2.1: PYSEC-2026-1"),
        ({"pypi": [SKIPPED, FLAWED]}, 1, "birch 2.1"),
        ({"pypi": [SKIPPED], "osv": [CLEAN]}, 0, "osv: 1 releases"),
        ({"osv": [FLAWED]}, 1, "osv: birch 2.1"),
        ({"pypi": [SKIPPED, CLEAN], "osv": [SKIPPED, CLEAN]}, 3, "Nothing is known of 1 of 2 releases."),
        ({"pypi": []}, 3, "Nothing is known of 0 of 0 releases."),
        ({}, 3, "osv: Nothing is known"),
    ],
)
def test_how_it_ends(tmp_path: Path, answers: dict[str, object], code: int, words: str) -> None:
    script = str(PROJECT / "deploy" / "advisories.py")
    command = [sys.executable, script, auditor(tmp_path, **answers), "list.txt"]
    told = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (told.returncode, told.stderr) == (code, "")
    assert words in told.stdout


def test_an_auditor_that_is_not_there_cannot_tell(tmp_path: Path) -> None:
    script = str(PROJECT / "deploy" / "advisories.py")
    command = [sys.executable, script, str(tmp_path / "none"), "list.txt"]
    assert subprocess.run(command, capture_output=True, check=False).returncode == 3
