"""Django's ``flush``, with SQLite's triggers lifted meanwhile: append-only tables refuse its DELETE.

PostgreSQL empties tables by TRUNCATE, which the triggers there let pass.
"""

from __future__ import annotations

from typing import Any  # Django passes options as it parsed them.

from django.core.management.commands.flush import Command as FlushCommand
from django.db import connections


class Command(FlushCommand):
    """Empty every table, and leave the triggers as they were."""

    def handle(self, **options: Any) -> None:
        connection = connections[options["database"]]
        if connection.vendor != "sqlite":
            return super().handle(**options)
        with connection.cursor() as cursor:
            cursor.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
            triggers = cursor.fetchall()
            for name, _ in triggers:
                cursor.execute(f'DROP TRIGGER "{name}"')
        super().handle(**options)
        with connection.cursor() as cursor:
            # Some are laid by the signal that follows emptying.
            cursor.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")
            standing = {name for (name,) in cursor.fetchall()}
            for name, statement in triggers:
                if name not in standing:
                    cursor.execute(statement)
        return None
