"""Harvest days and their loads."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from uuid import UUID

from django.db.models import Aggregate, Max, Min, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce
from django.http.response import HttpResponseBase
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from kitchen.api.base.access import KitchenView, Need
from kitchen.api.base.fields import AwareTime, Given, NearDate, RowShown, Shown
from kitchen.api.base.listing import Listing
from kitchen.api.models import Scope
from kitchen.api.v1.filters import Filters
from kitchen.api.v1.people import PersonShown
from kitchen.members.rules import Deed
from kitchen.planning.actions import change_hours, close_harvest_day, open_harvest_day
from kitchen.planning.models import DayState, HarvestDay, Load, LoadPhase, LoadPortion, LoadState
from kitchen.planning.queries import harvest_days, standing_loads


class DayShown(RowShown):
    """A harvest day. ``version`` rises with every published plan."""

    class Meta:
        model = HarvestDay
        fields = ("id", "date", "opens_at", "closes_at", "state", "version")


class HoursGiven(Given):
    """When the day opens and closes."""

    opens_at = AwareTime()
    closes_at = AwareTime()


class DayGiven(HoursGiven):
    """A day to announce."""

    date = NearDate()


class DayFilters(Filters):
    """By state, or by date, both ends included."""

    state = filters.ChoiceFilter(choices=DayState.choices)
    since = filters.DateFilter(field_name="date", lookup_expr="gte")
    until = filters.DateFilter(field_name="date", lookup_expr="lte")


class Days(KitchenView):
    """Harvest days."""

    model, shown, filterset_class = HarvestDay, DayShown, DayFilters
    listing = Listing(DayShown)
    needs = {
        "list": Need(Deed.SEE, Scope.BOARD),
        "retrieve": Need(Deed.SEE, Scope.BOARD),
        "create": Need(Deed.PLAN_DAY),
        "partial_update": Need(Deed.PLAN_DAY, versioned=True),
        "close": Need(Deed.PLAN_DAY),
    }

    def rows(self) -> QuerySet[HarvestDay]:
        """All of them."""
        return harvest_days().select_related("kitchen")

    @extend_schema(operation_id="days_list")
    def list(self, request: Request, kitchen: UUID) -> Response:
        """The kitchen's harvest days, the one announced last first."""
        return self.page()

    @extend_schema(operation_id="days_retrieve")
    def retrieve(self, request: Request, kitchen: UUID, day: UUID) -> HttpResponseBase:
        """One harvest day."""
        return self.one(self.found(day))

    @extend_schema(operation_id="days_open", request=DayGiven, responses={201: DayShown})
    def create(self, request: Request, kitchen: UUID) -> Response:
        """Announce a harvest day; members may then bring batches and say when they help."""
        given = self.given(DayGiven)
        date = given.pop("date")

        def announce() -> Response:
            opened = open_harvest_day(kitchen=self.here, day=date, actor=self.me, **given)
            return Response(self.told(opened), status=201)

        return self.once(announce)

    @extend_schema(operation_id="days_hours", request=HoursGiven, responses=DayShown)
    def partial_update(self, request: Request, kitchen: UUID, day: UUID) -> HttpResponseBase:
        """Change when it opens and closes. A plan made before must be made again."""
        given = self.given(HoursGiven)
        return self.changed(day, lambda row: change_hours(harvest_day=row, actor=self.me, **given))

    @extend_schema(operation_id="days_close", request=None, responses=DayShown)
    def close(self, request: Request, kitchen: UUID, day: UUID) -> HttpResponseBase:
        """End the day for good."""
        return self.one(close_harvest_day(harvest_day=self.found(day), actor=self.me))


class PhaseShown(Shown):
    """A phase of a load as planned (rule S4)."""

    class Meta:
        model = LoadPhase
        fields = ("kind", "starts_at", "ends_at")


class PortionInLoad(RowShown):
    """The jars of one batch in a load, and how they are filled. ``acid``: any one of them, for one jar."""

    batch = serializers.UUIDField(source="batch.uuid")
    food = serializers.CharField(source="batch.food_name")
    jar = serializers.CharField(source="batch.jar")
    member = PersonShown(source="batch.member")
    acid = serializers.ListField(child=serializers.CharField())

    class Meta:
        model = LoadPortion
        fields = ("id", "batch", "food", "jar", "member", "jars", "headspace_in", "sterilise_jars", "acid")


class CannerNamed(serializers.Serializer[Any]):
    """A canner by id, code and name."""

    id = serializers.UUIDField(source="uuid")
    code = serializers.CharField()
    name = serializers.CharField()


class LoadShown(RowShown):
    """A run of a canner. ``target_reading_psi`` is what its gauge must show, None where it has none."""

    day = serializers.UUIDField(source="harvest_day.uuid")
    canner = CannerNamed()
    starts_at = serializers.DateTimeField(source="begins_at", allow_null=True, default=None)
    ends_at = serializers.DateTimeField(allow_null=True, default=None)
    phases = PhaseShown(many=True)
    portions = PortionInLoad(many=True)

    class Meta:
        model = Load
        fields = (
            *("id", "day", "canner", "number", "lot_code", "state", "starts_at", "ends_at", "method"),
            *("pressure_psi", "target_reading_psi", "process_minutes", "sterilise_jars", "water_jars"),
            *("process_ended_at", "jars_out_at", "on_hold", "discarded", "deviation", "phases", "portions"),
        )


_PHASES, _PORTIONS = Listing(PhaseShown), Listing(PortionInLoad)


def _phases(loads: Sequence[int]) -> Mapping[int, object]:
    return _PHASES.told_by("load", LoadPhase.objects.filter(load__in=loads).order_by("starts_at", "pk"))


def _portions(loads: Sequence[int]) -> Mapping[int, object]:
    return _PORTIONS.told_by("load", LoadPortion.objects.filter(load__in=loads).order_by("pk"))


def _of_phases(column: str, of: type[Aggregate]) -> Subquery:
    phases = LoadPhase.objects.filter(load=OuterRef("pk")).order_by().values("load")
    return Subquery(phases.annotate(found=of(column)).values("found"))


# As Load.begins_at and Load.ends_at have it.
_LOADS = Listing(
    LoadShown,
    reckoned={
        "starts_at": Coalesce("canner_time__starts_at", _of_phases("starts_at", Min)),
        "ends_at": Coalesce("canner_time__ends_at", _of_phases("ends_at", Max)),
    },
    beside={"phases": _phases, "portions": _portions},
)


class LoadFilters(Filters):
    """By harvest day, canner, state, or whether a lead must decide."""

    day = filters.UUIDFilter(field_name="harvest_day__uuid")
    canner = filters.UUIDFilter(field_name="canner__uuid")
    state = filters.ChoiceFilter(choices=LoadState.choices)
    on_hold = filters.BooleanFilter()


class Loads(KitchenView):
    """Published loads."""

    model, shown, filterset_class, within = Load, LoadShown, LoadFilters, "harvest_day__kitchen"
    listing = _LOADS
    needs = {"list": Need(Deed.SEE, Scope.BOARD), "retrieve": Need(Deed.SEE, Scope.BOARD)}

    def rows(self) -> QuerySet[Load]:
        """Those that stand."""
        return standing_loads()

    @extend_schema(operation_id="loads_list")
    def list(self, request: Request, kitchen: UUID) -> Response:
        """The loads of the kitchen's harvest days."""
        return self.page()

    @extend_schema(operation_id="loads_retrieve")
    def retrieve(self, request: Request, kitchen: UUID, load: UUID) -> HttpResponseBase:
        """One load: its process, its phases and whose jars are in it."""
        return self.one(self.found(load))
