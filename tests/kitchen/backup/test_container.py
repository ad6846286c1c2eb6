"""The file of a backup is whole or refused, whatever happened to it."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitchen.backup.container import check_free, digest_of, opened_backup, write_backup
from kitchen.backup.manifest import Manifest
from kitchen.errors import BadBackup

DATA = b"the rows of a kitchen, and " * 20


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("backup")


@pytest.fixture(scope="module")
def backup(folder: Path) -> bytes:
    database = folder / "database"
    database.write_bytes(DATA)
    manifest = Manifest(
        format=1,
        made_at=datetime(2026, 9, 5, 12, tzinfo=UTC),
        database="sqlite",
        database_sha256=digest_of(database),
        migrations=["audit.0001_initial"],
        tables={},
        key_mark="00",
    )
    write_backup(folder / "whole", manifest, database)
    return (folder / "whole").read_bytes()


def data_in(folder: Path, content: bytes) -> bytes:
    (folder / "found").write_bytes(content)
    with opened_backup(folder / "found", folder) as (_, database):
        return database.read_bytes()


def test_what_was_written_is_read_and_only_by_its_owner(folder: Path, backup: bytes) -> None:
    assert data_in(folder, backup) == DATA
    assert (folder / "whole").stat().st_mode & 0o777 == 0o600
    assert [file.name for file in folder.glob(".*")] == []


def test_one_that_was_cut_short_is_refused_wherever_it_ends(folder: Path, backup: bytes) -> None:
    for length in range(len(backup)):
        with pytest.raises(BadBackup, match="damaged, cut short or no backup"):
            data_in(folder, backup[:length])


def test_a_changed_byte_is_refused_or_changes_nothing(folder: Path, backup: bytes) -> None:
    """Bytes of the archive that mean nothing, such as a date, may change; no row ever does."""
    refused = 0
    for place in range(len(backup)):
        changed = bytearray(backup)
        changed[place] ^= 0x20
        try:
            assert data_in(folder, bytes(changed)) == DATA
        except BadBackup:
            refused += 1
    assert refused > len(backup) * 0.7


@given(st.binary(max_size=200))
def test_any_other_file_is_refused(folder: Path, content: bytes) -> None:
    with pytest.raises(BadBackup, match="damaged, cut short or no backup"):
        data_in(folder, content)


def test_a_file_that_is_not_there_is_named(folder: Path) -> None:
    with (
        pytest.raises(BadBackup, match=r"nowhere cannot be read: No such file"),
        opened_backup(folder / "nowhere", folder),
    ):
        pass


def test_no_file_is_overwritten(folder: Path, backup: bytes) -> None:
    with pytest.raises(BadBackup, match="is there already"):
        check_free(folder / "whole")
    with pytest.raises(BadBackup, match="There is no folder"):
        check_free(folder / "nowhere" / "backup")
    check_free(folder / "another")
    assert (folder / "whole").read_bytes() == backup
