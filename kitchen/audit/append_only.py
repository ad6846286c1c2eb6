"""Triggers that make a table append-only, on both databases.

On SQLite a later migration that alters such a table rebuilds it and loses its triggers, so that migration
must lay them again; ``tests/kitchen/audit/test_append_only.py`` fails when one is missing.
"""

from __future__ import annotations

from collections.abc import Callable

from django.apps.registry import Apps
from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations import RunPython

_REFUSAL = "only ever appended to"
_TRIGGER = {"UPDATE": "update", "DELETE": "delete", "INSERT": "replace"}


def append_only(table: str) -> RunPython:
    """The migration operation that lets rows into ``table`` but never changes or removes them."""
    return RunPython(_run(_lay_statements, table), _run(_lift_statements, table))


def changeable(table: str) -> RunPython:
    """The migration operation that lifts what ``append_only`` laid, before a table is altered.

    ``append_only`` again is then the migration's last operation.
    """
    return RunPython(_run(_lift_statements, table), _run(_lay_statements, table))


def _run(
    statements: Callable[[str, str], tuple[str, ...]], table: str
) -> Callable[[Apps, BaseDatabaseSchemaEditor], None]:
    def run(apps: Apps, schema_editor: BaseDatabaseSchemaEditor) -> None:
        for statement in statements(schema_editor.connection.vendor, table):
            schema_editor.execute(statement, params=None)

    return run


def _lay_statements(vendor: str, table: str) -> tuple[str, ...]:
    if vendor == "postgresql":
        return (
            f"""
            CREATE FUNCTION {table}_append_only() RETURNS trigger LANGUAGE plpgsql AS $$
            BEGIN
                RAISE EXCEPTION '{table} is {_REFUSAL}' USING ERRCODE = 'integrity_constraint_violation';
            END $$
            """,
            f"""
            CREATE TRIGGER {table}_append_only BEFORE UPDATE OR DELETE ON {table}
            FOR EACH ROW EXECUTE FUNCTION {table}_append_only()
            """,
        )
    # INSERT OR REPLACE removes a row without firing its DELETE trigger, so a taken id is refused as well.
    conditions = {
        "UPDATE": "",
        "DELETE": "",
        "INSERT": f"WHEN EXISTS (SELECT 1 FROM {table} WHERE id = NEW.id)",
    }
    return tuple(
        f"""
        CREATE TRIGGER {table}_no_{_TRIGGER[verb]} BEFORE {verb} ON {table} {condition}
        BEGIN SELECT RAISE(ABORT, '{table} is {_REFUSAL}'); END
        """
        for verb, condition in conditions.items()
    )


def _lift_statements(vendor: str, table: str) -> tuple[str, ...]:
    if vendor == "postgresql":
        return (f"DROP TRIGGER {table}_append_only ON {table}", f"DROP FUNCTION {table}_append_only()")
    return tuple(f"DROP TRIGGER {table}_no_{name}" for name in _TRIGGER.values())
