"""Let the database refuse a canner booked twice, and keep gauge checks append-only.

On PostgreSQL an exclusion constraint, on SQLite two triggers with the same predicate: spans are half-open, so
touching bookings pass. SQLite keeps times as UTC text of varying length ("...:00" and "...:00.5"), which
still sorts by time. A later migration that alters the table rebuilds it on SQLite and loses the triggers;
that migration must lay them again.
"""

from django.apps.registry import Apps
from django.db import migrations
from django.db.backends.base.schema import BaseDatabaseSchemaEditor

from kitchen.audit.append_only import append_only

_POSTGRESQL = (
    "CREATE EXTENSION IF NOT EXISTS btree_gist",
    """
    ALTER TABLE equipment_cannertime ADD CONSTRAINT canner_time_no_double_booking
    EXCLUDE USING gist (canner_id WITH =, tstzrange(starts_at, ends_at, '[)') WITH &&) WHERE (occupies)
    """,
)

_SQLITE = tuple(
    f"""
    CREATE TRIGGER canner_time_no_double_booking_{verb.lower()} BEFORE {verb} ON equipment_cannertime
    WHEN NEW.occupies AND EXISTS (
        SELECT 1 FROM equipment_cannertime AS other
        WHERE other.canner_id = NEW.canner_id AND other.occupies AND other.id IS NOT {own_id}
          AND other.starts_at < NEW.ends_at AND NEW.starts_at < other.ends_at
    )
    BEGIN SELECT RAISE(ABORT, 'canner_time_no_double_booking'); END
    """
    for verb, own_id in (("INSERT", "NULL"), ("UPDATE", "OLD.id"))
)


def refuse_double_booking(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Lay the constraint or the triggers."""
    for statement in _POSTGRESQL if schema_editor.connection.vendor == "postgresql" else _SQLITE:
        schema_editor.execute(statement, params=None)


def allow_double_booking(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
    """Lift them again."""
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(
            "ALTER TABLE equipment_cannertime DROP CONSTRAINT canner_time_no_double_booking"
        )
        return
    for verb in ("insert", "update"):
        schema_editor.execute(f"DROP TRIGGER canner_time_no_double_booking_{verb}")


class Migration(migrations.Migration):
    dependencies = [("equipment", "0001_initial")]

    operations = [
        append_only("equipment_gaugecheck"),
        migrations.RunPython(refuse_double_booking, allow_double_booking),
    ]
