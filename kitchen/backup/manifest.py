"""What a backup says of itself: where it comes from, and what must be in it."""

from __future__ import annotations

from typing import Annotated

from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.utils.crypto import salted_hmac
from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

from kitchen.errors import BadBackup

FORMAT = 1


class Table(BaseModel):
    """One table: how many rows, and a sum over all of them in which a single changed figure shows."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    rows: int = Field(ge=0)
    checksum: str = Field(pattern=r"^[0-9a-f]{1,40}$")


class Manifest(BaseModel):
    """The first page of a backup. ``database_sha256`` is of the file with the data, beside it."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: int
    made_at: AwareDatetime
    database: str
    database_sha256: str
    migrations: list[str]
    tables: dict[Annotated[str, Field(pattern=r"^[a-z0-9_]{1,63}$")], Table]
    key_mark: str
    """Tells whether a secret key is the one of the kitchen that was backed up; the key cannot be found from it."""

    @property
    def rows(self) -> int:
        """In all tables."""
        return sum(table.rows for table in self.tables.values())


def key_mark() -> str:
    """The mark of the secret key in use."""
    return salted_hmac("kitchen.backup", "the key", algorithm="sha256").hexdigest()


def migrations_applied() -> list[str]:
    """The migrations that the database at hand has been through, each as ``app.name``."""
    loader = MigrationExecutor(connection).loader
    return sorted(f"{app}.{name}" for app, name in loader.applied_migrations)


def check_fits(manifest: Manifest) -> None:
    """Refuse a backup of the other kind of database, or of a program newer than this one."""
    if manifest.format != FORMAT:
        raise BadBackup(
            f"The backup is of format {manifest.format}; this program reads {FORMAT}.",
            remedy="Restore it with the program's version that made it.",
        )
    if manifest.database != connection.vendor:
        raise BadBackup(
            f"The backup is of {manifest.database}, and the kitchen is set up for {connection.vendor}.",
            remedy="Set KITCHEN_DATABASE_URL to a PostgreSQL server for a backup of postgresql; "
            "unset it for one of sqlite.",
        )
    known = {f"{app}.{name}" for app, name in MigrationExecutor(connection).loader.disk_migrations}
    unknown = sorted(set(manifest.migrations) - known)
    if unknown:
        raise BadBackup(
            f"The backup is of a newer program: this one does not know {unknown[0]}.",
            remedy="Install at least the version that made the backup, then restore again.",
        )
