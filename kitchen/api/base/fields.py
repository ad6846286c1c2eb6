"""Fields of the API: times that say their zone, and rows of this kitchen alone."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any  # A related field takes whatever was sent.

from django.core.exceptions import ImproperlyConfigured
from django.db.models import Model, QuerySet
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from kitchen.members.models import Kitchen

# A guard against slips of typing, and against times that no zone can be reckoned in.
_YEARS = range(2000, 2100)


class AwareTime(serializers.DateTimeField):
    """A moment in ISO 8601, in UTC when it is told; one without its zone is refused."""

    default_error_messages = {
        "naive": "Say the zone of this time: a Z for UTC, or the hours from it, as in 2026-09-12T09:00:00-06:00.",
        "range": "No kitchen plans for that year.",
    }

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(default_timezone=UTC, **kwargs)

    def enforce_timezone(self, value: datetime) -> datetime:
        """Refuse what has no zone; the framework would take the server's."""
        if value.tzinfo is None or value.utcoffset() is None:
            self.fail("naive")
        if value.year not in _YEARS:
            self.fail("range")
        return value.astimezone(UTC)


@extend_schema_field({"type": "string", "pattern": r"^\d\d:\d\d(:\d\d(\.\d+)?)?$", "example": "15:00"})
class WallTime(serializers.TimeField):
    """A time on the kitchen's wall, every day, and so without a zone."""


class NearDate(serializers.DateField):
    """A date of this century."""

    default_error_messages = {"range": "No kitchen plans for that year."}

    def to_internal_value(self, value: Any) -> date:
        """The date, unless its year is absurd."""
        found = super().to_internal_value(value)
        if found.year not in _YEARS:
            self.fail("range")
        return found


@extend_schema_field(OpenApiTypes.UUID)
class RowHere(serializers.RelatedField[Model, Any, str]):
    """A row named by its ``uuid``, found among ``rows`` of this kitchen only: another kitchen's does not exist."""

    default_error_messages = {"not_here": "This kitchen has none with that id.", "no_id": "An id is a UUID."}

    def __init__(
        self,
        rows: Callable[[Kitchen], QuerySet[Any]],
        *,
        by: str = "uuid",
        gives: str = "",
        owner: str = "",
        **kwargs: Any,
    ) -> None:
        """``by`` is the field that names a row; ``gives`` the attribute of the row that is wanted instead of it.

        ``owner`` is the field of a row's person, where only a lead may name the rows of others.
        """
        self._rows, self._by, self._gives, self._owner = rows, by, gives, owner
        super().__init__(**kwargs)

    def get_queryset(self) -> QuerySet[Any]:
        """The rows of the kitchen in the address, as far as the person may name them."""
        rows = self._rows(self.context["here"])
        if self._owner and not self.context["for_others"]:
            rows = rows.filter(**{self._owner: self.context["me"]})
        return rows

    def to_internal_value(self, data: Any) -> Any:
        """The row. ``not_here`` for one that is missing or another kitchen's, without saying which."""
        uuid = serializers.UUIDField().run_validation(data)
        found = self.get_queryset().filter(**{self._by: uuid}).first()
        if found is None:
            self.fail("not_here")
        return getattr(found, self._gives) if self._gives else found

    def to_representation(self, value: Any) -> str:
        """The id."""
        return str(value.uuid)


class Given(serializers.Serializer[Any]):
    """Base of everything that is sent: each related field of it is one of this kitchen's rows."""

    def get_fields(self) -> dict[str, serializers.Field[Any, Any, Any, Any]]:
        """The fields. A related field that could name another kitchen's row is a fault of the program."""
        fields = super().get_fields()
        for name, field in fields.items():
            inner = getattr(field, "child_relation", field)
            if isinstance(inner, serializers.RelatedField) and not isinstance(inner, RowHere):
                raise ImproperlyConfigured(f"{type(self).__name__}.{name} is not limited to its kitchen.")
        return fields


class Shown(serializers.ModelSerializer[Any]):
    """Base of everything that is told; nothing is ever written through it."""

    def get_fields(self) -> dict[str, serializers.Field[Any, Any, Any, Any]]:
        """The fields, all of them read-only."""
        fields = super().get_fields()
        for field in fields.values():
            field.read_only = True
        return fields


class RowShown(Shown):
    """A row that requests may name: its ``id`` is its ``uuid``."""

    id = serializers.UUIDField(source="uuid")
