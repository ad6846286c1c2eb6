"""The folder that holds everything the kitchen must not lose, and its secret key."""

from __future__ import annotations

import os
import secrets
import stat
from pathlib import Path

from kitchen.errors import BadConfiguration

SECRET_KEY_FILE = "secret_key"  # noqa: S105  (a file's name)
LEAST_KEY_LENGTH = 50
"""The length below which Django's own deployment check warns (security.W009)."""

_PARTS = ("mail", "static", "queue", "queue/messages", "queue/control")


def make_data_folder(folder: Path) -> None:
    """Make the folder, its parts and the secret key. What is there already stays as it is."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        for part in _PARTS:
            (folder / part).mkdir(mode=0o700, exist_ok=True)
        _make_secret_key(folder / SECRET_KEY_FILE)
    except OSError as error:
        raise BadConfiguration(
            f"The data folder {folder} cannot be made: {error.strerror}.",
            remedy="Set KITCHEN_DATA to a folder that you may write to.",
        ) from error


def read_secret_key(file: Path) -> str:
    """The key in this file. A file that others may read, or a short key, is refused."""
    try:
        mode = stat.S_IMODE(file.stat().st_mode)
        key = file.read_text(encoding="utf-8").strip()
    except OSError as error:
        raise BadConfiguration(
            f"The secret key {file} cannot be read: {error.strerror}.",
            remedy="Start with deploy/run or `python -m kitchen`, which make one, or set KITCHEN_SECRET_KEY.",
        ) from error
    if mode & 0o077:
        raise BadConfiguration(
            f"Others on this machine may read the secret key {file} (mode {mode:o}).",
            remedy="Run `chmod 600` on it. If somebody may have read it, remove it; all sign in again.",
        )
    return check_secret_key(key, source=str(file))


def check_secret_key(key: str, *, source: str) -> str:
    """The key itself, if it is long enough to be one."""
    if len(key) < LEAST_KEY_LENGTH:
        raise BadConfiguration(
            f"The secret key from {source} has {len(key)} characters.",
            remedy=f"Use at least {LEAST_KEY_LENGTH} random characters.",
        )
    return key


def _make_secret_key(file: Path) -> None:
    """Write a new key unless there is one.

    It is linked into place whole, so a second start never reads half a key.
    """
    if file.exists():
        return
    draft = file.with_name(f"{file.name}.{secrets.token_hex(8)}")
    descriptor = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "w", encoding="utf-8") as stream:
        stream.write(secrets.token_urlsafe(64) + "\n")
    try:
        os.link(draft, file)
    except FileExistsError:
        return  # Another start was first; its key is the one.
    finally:
        draft.unlink()
