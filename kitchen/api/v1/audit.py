"""Who changed what, for the lead."""

from __future__ import annotations

from uuid import UUID

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from kitchen.api.base.access import KitchenView, Need
from kitchen.api.base.fields import Shown
from kitchen.api.base.listing import Listing
from kitchen.api.v1.filters import Filters
from kitchen.api.v1.people import PersonShown
from kitchen.audit.models import AuditEvent
from kitchen.audit.queries import of_kitchen
from kitchen.members.rules import Deed


class EventShown(Shown):
    """A change: who, what, when, and the fields that changed. ``actor`` is None for what the program did by itself."""

    id = serializers.IntegerField()
    actor = PersonShown(allow_null=True)
    before = serializers.DictField()
    after = serializers.DictField()

    class Meta:
        model = AuditEvent
        fields = ("id", "at", "actor", "action", "object_type", "object_id", "before", "after")


class EventFilters(Filters):
    """By action, kind of object, person, or from when on."""

    action = filters.CharFilter(max_length=60)
    object_type = filters.CharFilter(max_length=60)
    actor = filters.UUIDFilter(field_name="actor__uuid")
    since = filters.DateFilter(field_name="at", lookup_expr="date__gte")


class Audit(KitchenView):
    """The audit of the kitchen."""

    model, shown, filterset_class = AuditEvent, EventShown, EventFilters
    listing = Listing(EventShown)
    needs = {"list": Need(Deed.SEE_AUDIT)}

    def rows(self) -> QuerySet[AuditEvent]:
        """With who did it."""
        return of_kitchen(self.here).select_related("actor")

    @extend_schema(operation_id="audit_list")
    def list(self, request: Request, kitchen: UUID) -> Response:
        """What was changed in this kitchen, the newest first."""
        return self.page()
