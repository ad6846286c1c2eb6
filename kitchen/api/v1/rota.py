"""Who helps when: hours that people give, shifts, and offers to change them."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from kitchen.api.base.access import KitchenView, Need
from kitchen.api.base.fields import AwareTime, Given, RowHere, RowShown, Shown
from kitchen.api.base.listing import Listing
from kitchen.api.models import Scope
from kitchen.api.v1.filters import Filters
from kitchen.api.v1.people import PersonShown
from kitchen.harvest.actions import come_to_help
from kitchen.members.queries import members_of
from kitchen.members.rules import Deed
from kitchen.planning.models import HarvestDay
from kitchen.planning.queries import days_of
from kitchen.rota.actions import give_back, hand_over, take, want_helpers, want_no_more, withdraw_attendance
from kitchen.rota.models import Attendance, Shift, Station

_MOST_WANTED = 50


class ShiftShown(RowShown):
    """A person at a station for a time; without a person it is open. ``sequence`` rises with every change."""

    day = serializers.UUIDField(source="harvest_day.uuid")
    person = PersonShown(source="user", allow_null=True)
    load = serializers.UUIDField(source="load.uuid", allow_null=True, default=None)

    class Meta:
        model = Shift
        fields = (
            *("id", "day", "person", "station", "task", "load", "starts_at", "ends_at", "asked_for"),
            *("sequence", "changed_at", "cancelled_at"),
        )


class ShiftFilters(Filters):
    """By harvest day, person, station, or those that are open."""

    day = filters.UUIDFilter(field_name="harvest_day__uuid")
    person = filters.UUIDFilter(field_name="user__uuid")
    station = filters.ChoiceFilter(choices=Station.choices)
    open = filters.BooleanFilter(field_name="user", lookup_expr="isnull")


class PersonGiven(Given):
    """Who takes it."""

    to = RowHere(members_of, by="user__uuid", gives="user")


class WantedGiven(Given):
    """So many helpers at a station."""

    station = serializers.ChoiceField(choices=Station.choices)
    starts_at = AwareTime()
    ends_at = AwareTime()
    count = serializers.IntegerField(min_value=1, max_value=_MOST_WANTED, default=1)


class AskedShown(serializers.Serializer[Any]):
    """The open shifts that were asked for."""

    shifts = ShiftShown(many=True)


class Shifts(KitchenView):
    """Shifts of the kitchen's days."""

    model, shown, filterset_class, within = Shift, ShiftShown, ShiftFilters, "harvest_day__kitchen"
    listing = Listing(ShiftShown)
    needs = {
        "list": Need(Deed.SEE, Scope.BOARD),
        "retrieve": Need(Deed.SEE, Scope.BOARD),
        "want": Need(Deed.ASK_FOR_HELPERS),
        "take": Need(Deed.JOIN_ROTA),
        "give_back": Need(Deed.JOIN_ROTA),
        "hand_over": Need(Deed.JOIN_ROTA),
        "destroy": Need(Deed.ASK_FOR_HELPERS, versioned=True),
    }

    def rows(self) -> QuerySet[Shift]:
        """Those that stand."""
        return Shift.objects.filter(cancelled_at__isnull=True).select_related(
            "user", "load__canner", "harvest_day__kitchen"
        )

    @extend_schema(operation_id="shifts_list")
    def list(self, request: Request, kitchen: UUID) -> Response:
        """Who is where, and where somebody is wanted."""
        return self.page()

    @extend_schema(operation_id="shifts_retrieve")
    def retrieve(self, request: Request, kitchen: UUID, shift: UUID) -> HttpResponseBase:
        """One shift."""
        return self.one(self.found(shift))

    @extend_schema(operation_id="shifts_want", request=WantedGiven, responses={201: AskedShown})
    def want(self, request: Request, kitchen: UUID, day: UUID) -> Response:
        """Ask for helpers: as many open shifts."""
        given, found = self.given(WantedGiven), _day(self, day)
        station = Station(given.pop("station"))

        def ask() -> Response:
            wanted = want_helpers(harvest_day=found, station=station, actor=self.me, **given)
            return Response({"shifts": [self.told(shift) for shift in wanted]}, status=201)

        return self.once(ask)

    @extend_schema(operation_id="shifts_take", request=None, responses=ShiftShown)
    def take(self, request: Request, kitchen: UUID, shift: UUID) -> HttpResponseBase:
        """Take an open shift; refused for whoever comes second."""
        return self.one(take(shift=self.found(shift), actor=self.me))

    @extend_schema(operation_id="shifts_give_back", request=None, responses=ShiftShown)
    def give_back(self, request: Request, kitchen: UUID, shift: UUID) -> HttpResponseBase:
        """Give a shift back: it becomes open, and the leads are told. Of one under way the rest is answered."""
        return self.one(give_back(shift=self.found(shift), actor=self.me))

    @extend_schema(operation_id="shifts_hand_over", request=PersonGiven, responses=ShiftShown)
    def hand_over(self, request: Request, kitchen: UUID, shift: UUID) -> HttpResponseBase:
        """Give a shift to another person; a lead also fills an open one."""
        given = self.given(PersonGiven)
        return self.one(hand_over(shift=self.found(shift), to=given["to"], actor=self.me))

    @extend_schema(operation_id="shifts_no_more", responses={204: None})
    def destroy(self, request: Request, kitchen: UUID, shift: UUID) -> HttpResponseBase:
        """No longer ask for a helper whom nobody was yet."""

        def end(row: Shift) -> None:
            want_no_more(shift=row, actor=self.me)

        return self.changed(shift, end)


class HoursShown(Shown):
    """Hours that somebody is there."""

    id = serializers.IntegerField()
    day = serializers.UUIDField(source="harvest_day.uuid")
    person = PersonShown(source="user")

    class Meta:
        model = Attendance
        fields = ("id", "day", "person", "starts_at", "ends_at")


class HoursGiven(Given):
    """When somebody can help; busy times of their calendar are taken out unless ``despite_busy``."""

    starts_at = AwareTime()
    ends_at = AwareTime()
    person = RowHere(members_of, by="user__uuid", gives="user", required=False)
    despite_busy = serializers.BooleanField(default=False)


class SpanShown(serializers.Serializer[Any]):
    """From when to when."""

    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()


class ComingShown(serializers.Serializer[Any]):
    """The hours for which somebody is put down, and the busy times that were taken out."""

    hours = SpanShown(many=True)
    taken_out = SpanShown(many=True)


class HoursFilters(Filters):
    """By harvest day or person."""

    day = filters.UUIDFilter(field_name="harvest_day__uuid")
    person = filters.UUIDFilter(field_name="user__uuid")


class Hours(KitchenView):
    """Hours that people give."""

    model, shown, filterset_class, within = Attendance, HoursShown, HoursFilters, "harvest_day__kitchen"
    listing = Listing(HoursShown)
    needs = {
        "list": Need(Deed.SEE, Scope.BOARD),
        "retrieve": Need(Deed.SEE, Scope.BOARD),
        "create": Need(Deed.JOIN_ROTA),
        "destroy": Need(Deed.JOIN_ROTA, versioned=True),
    }

    def rows(self) -> QuerySet[Attendance]:
        """Everybody's."""
        return Attendance.objects.select_related("user", "harvest_day__kitchen")

    @extend_schema(operation_id="hours_list")
    def list(self, request: Request, kitchen: UUID) -> Response:
        """Who said that they will be there, and when."""
        return self.page()

    @extend_schema(operation_id="hours_retrieve")
    def retrieve(self, request: Request, kitchen: UUID, hours: int) -> HttpResponseBase:
        """Hours that somebody gave."""
        return self.one(self.found(hours, by="pk"))

    @extend_schema(operation_id="hours_give", request=HoursGiven, responses={201: ComingShown})
    def create(self, request: Request, kitchen: UUID, day: UUID) -> Response:
        """Say when I can help, or as a lead when somebody can."""
        given, found = self.given(HoursGiven), _day(self, day)
        user = given.pop("person", self.me)

        def come() -> Response:
            coming = come_to_help(harvest_day=found, user=user, actor=self.me, **given)
            told = {
                name: [{"starts_at": start, "ends_at": end} for start, end in getattr(coming, name)]
                for name in ("hours", "taken_out")
            }
            return Response(ComingShown(told).data, status=201)

        return self.once(come)

    @extend_schema(operation_id="hours_take_back", responses={204: None})
    def destroy(self, request: Request, kitchen: UUID, hours: int) -> HttpResponseBase:
        """Take hours back, and with them the shifts in them, which become open."""

        def withdraw(row: Attendance) -> None:
            withdraw_attendance(attendance=row, actor=self.me)

        return self.changed(hours, withdraw, by="pk")


def _day(view: KitchenView, uuid: UUID) -> HarvestDay:
    found: HarvestDay = get_object_or_404(days_of(view.here).select_related("kitchen"), uuid=uuid)
    return found
