"""PostgreSQL's moments, read by the standard library. Its driver need not be there where nobody imports this."""

from __future__ import annotations

from datetime import UTC, datetime

from psycopg.types.datetime import TimestamptzLoader


class MomentLoader(TimestamptzLoader):
    """A moment in UTC. What the standard library cannot read, such as a year before Christ, is left to the driver."""

    timezone = UTC
    """What Django asks a reader for, to see whether it fits the connection."""

    def load(self, data: bytes | bytearray | memoryview) -> datetime:
        """The moment that this text is."""
        try:
            return datetime.fromisoformat(str(data, "ascii"))
        except ValueError:
            return super().load(data).replace(tzinfo=UTC)
