"""The file of a backup: a ZIP archive of its manifest and the database, complete or not a backup at all."""

from __future__ import annotations

import os
import shutil
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import BinaryIO

from kitchen.backup.manifest import Manifest
from kitchen.errors import BadBackup

_MANIFEST = "manifest.json"
_DATABASE = "database"
_BLOCK_BYTES = 1 << 20
_NOT_WHOLE = "Take another backup; nothing was changed."


def digest_of(file: Path) -> str:
    """The SHA-256 of a file."""
    digest = sha256()
    with file.open("rb") as stream:
        while block := stream.read(_BLOCK_BYTES):
            digest.update(block)
    return digest.hexdigest()


def check_free(target: Path) -> None:
    """Refuse a name that is taken, or a folder that is not there, before the work is done."""
    if target.exists():
        raise BadBackup(
            f"{target} is there already.", remedy="Choose another name; no backup is overwritten."
        )
    if not target.parent.is_dir():
        raise BadBackup(f"There is no folder {target.parent}.", remedy="Make it, or choose another name.")


def write_backup(target: Path, manifest: Manifest, database: Path) -> None:
    """Write a backup that only its owner may read.

    It appears under its name when it is whole and on the disk; an older file of that name stays.
    """
    draft = target.with_name(f".{target.name}.part")
    try:
        descriptor = os.open(draft, os.O_RDWR | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(descriptor, "w+b") as stream:
            with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
                archive.writestr(_MANIFEST, manifest.model_dump_json(indent=1))
                archive.write(database, _DATABASE)
            stream.flush()
            os.fsync(stream.fileno())
        os.link(draft, target)
    except FileExistsError as error:
        raise BadBackup(f"{target} is there already.", remedy="Choose another name.") from error
    except OSError as error:
        raise BadBackup(
            f"The backup could not be written to {target}: {error.strerror or error}.",
            remedy="Make room there, or choose another place; the kitchen itself was not touched.",
        ) from error
    finally:
        draft.unlink(missing_ok=True)


@contextmanager
def opened_backup(source: Path, room: Path) -> Iterator[tuple[Manifest, Path]]:
    """The manifest, and the database's file unpacked into a folder under ``room`` for as long as the block lasts.

    A file that was cut short or changed is refused here, before anything else is looked at.
    """
    with TemporaryDirectory(prefix="restore-", dir=room) as folder:
        unpacked = Path(folder) / _DATABASE
        try:
            with source.open("rb") as stream:
                manifest = _unpack(stream, source, unpacked)
        except OSError as error:
            raise BadBackup(
                f"{source} cannot be read: {error.strerror or error}.",
                remedy=f"Name a backup that you may read, and have room for it in {room}.",
            ) from error
        if digest_of(unpacked) != manifest.database_sha256:
            raise BadBackup(f"{source} is damaged: its data is not what was saved.", remedy=_NOT_WHOLE)
        yield manifest, unpacked


def _unpack(stream: BinaryIO, source: Path, target: Path) -> Manifest:
    try:
        with zipfile.ZipFile(stream) as archive:
            manifest = Manifest.model_validate_json(archive.read(_MANIFEST))
            with archive.open(_DATABASE) as packed, target.open("wb") as unpacked:
                shutil.copyfileobj(packed, unpacked, _BLOCK_BYTES)
    except (
        zipfile.BadZipFile,
        zlib.error,
        EOFError,
        KeyError,
        RuntimeError,  # What zipfile says of a file locked with a password, or packed in a way it does not know.
        ValueError,
    ) as error:
        raise BadBackup(f"{source} is damaged, cut short or no backup.", remedy=_NOT_WHOLE) from error
    return manifest
