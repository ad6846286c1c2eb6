"""A database for the bench alone, beside the kitchen's: made for it, and removed when it is done."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from uuid import uuid4

from django.db import connection

from kitchen.errors import BadConfiguration
from kitchen.members.models import Kitchen


@contextmanager
def scratch_database() -> Iterator[str]:
    """Within, every query goes to a new database with all migrations in it; its name is given.

    On PostgreSQL a database of a new name on the same server, on SQLite a file in a folder of its own. The kitchen's
    database is not looked at. ``BadConfiguration`` should the new one hold anything.
    """
    kitchens_own = str(connection.settings_dict["NAME"])
    connection.close()
    with TemporaryDirectory(prefix="kitchen-bench-") as folder:
        name = f"kitchen_bench_{uuid4().hex[:12]}"
        on_server = connection.vendor == "postgresql"
        chosen = name if on_server else str(Path(folder) / f"{name}.sqlite3")
        connection.settings_dict["TEST"] = {**connection.settings_dict["TEST"], "NAME": chosen}
        # Django's own way to such a database; it asks before it would touch one that is there, and gets no answer.
        connection.creation.create_test_db(verbosity=0, autoclobber=False)
        try:
            if str(connection.settings_dict["NAME"]) != chosen or Kitchen.objects.exists():
                raise BadConfiguration(
                    "The bench's own database is not empty.", remedy="Nothing was written. Try again."
                )
            yield chosen
        finally:
            connection.creation.destroy_test_db(kitchens_own, verbosity=0)
