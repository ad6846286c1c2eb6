"""Making a backup and going back to one. These alone write no line in the audit record: they copy it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from types import ModuleType

from django.conf import settings
from django.core.management import call_command
from django.db import connection
from django.utils import timezone

from kitchen.backup import postgres, sqlite
from kitchen.backup.container import check_free, digest_of, opened_backup, write_backup
from kitchen.backup.manifest import FORMAT, Manifest, check_fits, key_mark, migrations_applied
from kitchen.errors import BadBackup
from kitchen.members.models import Kitchen


@dataclass(frozen=True, slots=True, kw_only=True)
class Restored:
    """What was restored, and whether what the old secret key had signed is still believed."""

    manifest: Manifest
    same_key: bool


def back_up(target: Path) -> Manifest:
    """Write everything in the database to a file, as it stands at one moment. Nothing has to stop for it.

    The secret key is not in it: who finds a backup must not be able to sign in with it. What is read back from the new
    file is what counts as written.
    """
    check_free(target)
    applied = migrations_applied()
    if not applied:
        raise BadBackup(
            "The kitchen's database is empty: it was never set up.",
            remedy="Check KITCHEN_DATA and KITCHEN_DATABASE_URL.",
        )
    room = Path(settings.KITCHEN_DATA)
    with TemporaryDirectory(prefix="backup-", dir=room) as folder:
        copy = Path(folder) / "database"
        tables = _engine().copy_to(copy)
        manifest = Manifest(
            format=FORMAT,
            made_at=timezone.now(),
            database=connection.vendor,
            database_sha256=digest_of(copy),
            migrations=applied,
            tables=tables,
            key_mark=key_mark(),
        )
        write_backup(target, manifest, copy)
    with opened_backup(target, room) as (written, _):
        return written


def restore(source: Path, *, replace: bool) -> Restored:
    """Put a backup in the place of the kitchen's database, then bring its tables up to date.

    Everything that can be wrong with the file is found before anything is overwritten, and the change itself happens
    whole or not at all. A database in which kitchens stand is overwritten only with ``replace``.
    """
    engine = _engine()
    with opened_backup(source, Path(settings.KITCHEN_DATA)) as (manifest, database):
        check_fits(manifest)
        engine.check_copy(database, manifest.tables)
        if not replace:
            _check_nothing_is_lost()
        with engine.stopped():
            engine.put_in_place(database, manifest.tables)
    call_command("migrate", interactive=False, verbosity=0)
    return Restored(manifest=manifest, same_key=manifest.key_mark == key_mark())


def _check_nothing_is_lost() -> None:
    if Kitchen._meta.db_table not in connection.introspection.table_names():
        return
    kitchens = list(Kitchen.objects.order_by("name").values_list("name", flat=True)[:3])
    if kitchens:
        raise BadBackup(
            f"The database holds kitchens already: {', '.join(kitchens)}.",
            remedy="Back it up first; then restore with --replace, which overwrites all that is in it.",
        )


def _engine() -> ModuleType:
    return postgres if connection.vendor == "postgresql" else sqlite
