"""Machine code is kept only as long as it is that of the source."""

from __future__ import annotations

from pathlib import Path

import pytest

from scheduler import compiled as subject
from scheduler.compiled import compiled


@compiled
def _sum_to(last: int) -> int:
    total = 0
    for number in range(last + 1):
        total += number
    return total


def package(folder: Path) -> Path:
    """A package with one source file that has compiled loops and one that has none."""
    (folder / "loops.py").write_text("from scheduler.compiled import compiled\n")
    (folder / "plain.py").write_text("pass\n")
    return folder


def test_a_compiled_function_answers_as_its_source_does() -> None:
    assert _sum_to(100) == 5050


def test_an_edit_of_a_source_with_loops_changes_the_folder(tmp_path: Path) -> None:
    before = subject._folder(package(tmp_path), "")
    (tmp_path / "plain.py").write_text("pass  # Nothing compiled here.\n")
    assert subject._folder(tmp_path, "") == before
    (tmp_path / "loops.py").write_text("from scheduler.compiled import compiled  # Edited.\n")
    after = subject._folder(tmp_path, "")
    assert before is not None
    assert after is not None
    assert after != before
    assert after.is_dir()


def test_a_source_folder_that_cannot_be_written_sends_the_machine_code_home(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    home, source = tmp_path / "home", package(tmp_path)
    monkeypatch.setattr(Path, "home", lambda: home)
    (source / "__pycache__").write_text("a file is in the way")
    folder = subject._folder(source, "")
    assert folder is not None
    assert folder.is_relative_to(home)


def test_without_any_folder_nothing_is_kept(tmp_path: Path) -> None:
    in_the_way = tmp_path / "file"
    in_the_way.write_text("not a folder")
    assert subject._folder(package(tmp_path), str(in_the_way)) is None
