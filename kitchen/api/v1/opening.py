"""When the kitchen is usually open."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db import transaction
from django.http.response import HttpResponseBase
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.exceptions import NotFound
from rest_framework.request import Request
from rest_framework.response import Response

from kitchen.api.base.access import KitchenView, Need
from kitchen.api.base.fields import Given, WallTime
from kitchen.api.base.versions import check_version, with_etag
from kitchen.api.models import Scope
from kitchen.members.actions import set_opening_hours
from kitchen.members.models import Kitchen, OpeningHours
from kitchen.members.rules import Deed

_MOST_SPANS = 6


class HoursOfDay(serializers.Serializer[Any]):
    """A stretch of the day on the kitchen's clock."""

    opens = WallTime()
    closes = WallTime()


class WeekdayShown(serializers.Serializer[Any]):
    """A weekday, 0 for Monday; closed where there is no stretch."""

    weekday = serializers.IntegerField()
    hours = HoursOfDay(many=True)


class WeekdayGiven(Given):
    """All stretches of that weekday, in the place of those before; none closes the kitchen."""

    hours = serializers.ListField(child=HoursOfDay(), max_length=_MOST_SPANS)


class Opening(KitchenView):
    """The usual hours, by weekday."""

    model, shown, pagination_class = OpeningHours, WeekdayShown, None
    needs = {
        "list": Need(Deed.SEE, Scope.BOARD),
        "retrieve": Need(Deed.SEE, Scope.BOARD),
        "update": Need(Deed.CHANGE_POLICY, versioned=True),
    }

    @extend_schema(operation_id="opening_hours_list", responses=WeekdayShown(many=True), filters=False)
    def list(self, request: Request, kitchen: UUID) -> Response:
        """The usual hours of the week."""
        return Response(WeekdayShown([_of(self.here, day) for day in range(7)], many=True).data)

    @extend_schema(operation_id="opening_hours_retrieve")
    def retrieve(self, request: Request, kitchen: UUID, weekday: int) -> HttpResponseBase:
        """The usual hours of one weekday, 0 for Monday."""
        return with_etag(request, _told(self.here, weekday))

    @extend_schema(operation_id="opening_hours_set", request=WeekdayGiven, responses=WeekdayShown)
    def update(self, request: Request, kitchen: UUID, weekday: int) -> HttpResponseBase:
        """Change the usual hours of one weekday."""
        hours = [(one["opens"], one["closes"]) for one in self.given(WeekdayGiven)["hours"]]
        with transaction.atomic():
            here = Kitchen.objects.select_for_update().get(pk=self.here.pk)
            check_version(request, _told(here, weekday))
            set_opening_hours(kitchen=here, weekday=weekday, hours=hours, actor=self.me)
        return with_etag(request, _told(self.here, weekday))


def _of(here: Kitchen, weekday: int) -> dict[str, object]:
    return {"weekday": weekday, "hours": here.opening_hours.filter(weekday=weekday)}


def _told(here: Kitchen, weekday: int) -> dict[str, object]:
    if not 0 <= weekday < 7:
        raise NotFound
    return dict(WeekdayShown(_of(here, weekday)).data)
