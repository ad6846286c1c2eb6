"""The data folder, and the secret key that nobody else may read."""

from __future__ import annotations

import os
import stat
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from kitchen.configuration.data_folder import (
    LEAST_KEY_LENGTH,
    check_secret_key,
    make_data_folder,
    read_secret_key,
)
from kitchen.errors import BadConfiguration


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_only_its_owner_gets_in(tmp_path: Path) -> None:
    folder = tmp_path / "of the kitchen" / "data"
    before = os.umask(0)
    try:
        make_data_folder(folder)
    finally:
        os.umask(before)
    assert mode(folder) == 0o700
    assert mode(folder / "secret_key") == 0o600
    assert sorted(path.name for path in folder.iterdir()) == ["mail", "queue", "secret_key", "static"]


def test_the_key_stays_when_made_again(tmp_path: Path) -> None:
    make_data_folder(tmp_path)
    key = read_secret_key(tmp_path / "secret_key")
    make_data_folder(tmp_path)
    assert read_secret_key(tmp_path / "secret_key") == key
    assert len(key) >= LEAST_KEY_LENGTH


def test_two_kitchens_have_two_keys(tmp_path: Path) -> None:
    make_data_folder(tmp_path / "one")
    make_data_folder(tmp_path / "two")
    assert read_secret_key(tmp_path / "one/secret_key") != read_secret_key(tmp_path / "two/secret_key")


def test_starts_that_race_agree_on_one_key(tmp_path: Path) -> None:
    def start(_: int) -> str:
        make_data_folder(tmp_path)
        return read_secret_key(tmp_path / "secret_key")

    with ThreadPoolExecutor(8) as starts:
        assert len(set(starts.map(start, range(8)))) == 1
    assert not list(tmp_path.glob("secret_key.*"))


@pytest.mark.parametrize("open_to", [0o640, 0o604, 0o644])
def test_a_key_that_others_can_read_is_refused(tmp_path: Path, open_to: int) -> None:
    make_data_folder(tmp_path)
    (tmp_path / "secret_key").chmod(open_to)
    with pytest.raises(BadConfiguration, match=f"mode {open_to:o}"):
        read_secret_key(tmp_path / "secret_key")


def test_a_missing_key_says_how_to_make_one(tmp_path: Path) -> None:
    with pytest.raises(BadConfiguration, match="deploy/run"):
        read_secret_key(tmp_path / "secret_key")


def test_a_short_key_is_refused() -> None:
    assert check_secret_key("k" * LEAST_KEY_LENGTH, source="a test") == "k" * LEAST_KEY_LENGTH
    with pytest.raises(BadConfiguration, match="has 49 characters"):
        check_secret_key("k" * (LEAST_KEY_LENGTH - 1), source="a test")


def test_a_folder_that_cannot_be_made_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(BadConfiguration, match="KITCHEN_DATA"):
        make_data_folder(tmp_path / "file" / "data")
