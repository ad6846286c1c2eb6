"""The canners with their gauge checks, and what else the kitchen cans with."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.http.response import HttpResponseBase
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from kitchen.api.base.access import KitchenView, Need
from kitchen.api.base.fields import Given, NearDate, RowHere, RowShown, Shown
from kitchen.api.models import Scope
from kitchen.equipment.actions import (
    add_canner,
    change_canner,
    record_gauge_check,
    return_to_service,
    take_out_of_service,
)
from kitchen.equipment.bridge import why_out_of_service
from kitchen.equipment.models import Burner, Canner, CannerKind, CoolingTable, GaugeCheck, Kettle
from kitchen.equipment.queries import canners_of
from kitchen.members.models import Kitchen
from kitchen.members.rules import Deed

# Guards against slips of typing, not figures of the trade.
_MOST_JARS, _MOST_MINUTES, _MOST_INCHES = 60, 600, 60


def burners_in(here: Kitchen) -> QuerySet[Burner]:
    """The kitchen's burners."""
    return here.burners.all()


class BurnerShown(RowShown):
    """A cooking place. ``efficiency`` is the share of its power that reaches the water."""

    class Meta:
        model = Burner
        fields = ("id", "name", "power_w", "efficiency")


class KettleShown(RowShown):
    """A pot for hot pack food."""

    burner = serializers.UUIDField(source="burner.uuid", allow_null=True, default=None)

    class Meta:
        model = Kettle
        fields = ("id", "name", "volume_qt", "burner")


class TableShown(RowShown):
    """Where jars stand after unloading."""

    class Meta:
        model = CoolingTable
        fields = ("id", "name", "area_sq_in")


class GaugeCheckShown(Shown):
    """A dial gauge compared with a master gauge. ``error_psi`` is what the dial shows above the true pressure."""

    id = serializers.IntegerField()

    class Meta:
        model = GaugeCheck
        fields = ("id", "checked_on", "error_psi", "checked_by", "recorded_at")


class CannerShown(RowShown):
    """A canner. ``out_of_service`` says why it must not be used today, by a person or by rule S8; empty when it may."""

    burner = serializers.UUIDField(source="burner.uuid")
    own_counts = serializers.DictField(child=serializers.IntegerField())
    own_cool_down_minutes = serializers.DictField(child=serializers.IntegerField())
    gauge_checks = GaugeCheckShown(many=True)
    out_of_service = serializers.SerializerMethodField()

    class Meta:
        model = Canner
        fields = (
            *("id", "code", "name", "kind", "burner", "inside_diameter_in", "inside_depth_in", "layers"),
            *("heavy_walled", "own_counts", "own_heat_up_minutes", "own_pressure_up_minutes"),
            *("own_cool_down_minutes", "out_of_service", "gauge_checks"),
        )

    def get_out_of_service(self, canner: Canner) -> str:
        """The reason."""
        today = timezone.now().astimezone(self.context["here"].zone).date()
        return why_out_of_service(canner, today)


class GaugeCheckGiven(Given):
    """What a dial gauge showed above the true pressure, on which day, found by whom."""

    checked_on = NearDate()
    error_psi = serializers.DecimalField(max_digits=4, decimal_places=2)
    checked_by = serializers.CharField(max_length=80)


class CannerChange(Given):
    """What is known better of a canner; what is not named stays. Inches, litres, kilograms, minutes.

    ``own_counts`` and ``own_cool_down_minutes`` go by the jar's name and were found in this kitchen; they never
    shorten a cool-down below rule S5.
    """

    name = serializers.CharField(max_length=60, required=False)
    burner = RowHere(burners_in, required=False)
    layers = serializers.IntegerField(min_value=1, max_value=2, required=False)
    heavy_walled = serializers.BooleanField(required=False)
    own_counts = serializers.DictField(
        child=serializers.IntegerField(min_value=1, max_value=_MOST_JARS), required=False
    )
    own_heat_up_minutes = serializers.IntegerField(
        min_value=1, max_value=_MOST_MINUTES, required=False, allow_null=True
    )
    own_pressure_up_minutes = serializers.IntegerField(
        min_value=1, max_value=_MOST_MINUTES, required=False, allow_null=True
    )
    own_cool_down_minutes = serializers.DictField(
        child=serializers.IntegerField(min_value=1, max_value=_MOST_MINUTES), required=False
    )


class CannerGiven(CannerChange):
    """A canner with its inside measures in inches; what is known of it beyond that, as for a change."""

    code = serializers.CharField(max_length=10)
    name = serializers.CharField(max_length=60)
    kind = serializers.ChoiceField(choices=CannerKind.choices)
    burner = RowHere(burners_in)
    inside_diameter_in = serializers.FloatField(min_value=1, max_value=_MOST_INCHES)
    inside_depth_in = serializers.FloatField(min_value=1, max_value=_MOST_INCHES)


class ReasonGiven(Given):
    """Why it must not be used."""

    reason = serializers.CharField(max_length=200)


class EquipmentShown(serializers.Serializer[Any]):
    """All that stands beside the canners."""

    burners = BurnerShown(many=True)
    kettles = KettleShown(many=True)
    cooling_tables = TableShown(many=True)


class Canners(KitchenView):
    """The kitchen's canners."""

    model, shown = Canner, CannerShown
    needs = {
        "list": Need(Deed.SEE, Scope.BOARD),
        "retrieve": Need(Deed.SEE, Scope.BOARD),
        "create": Need(Deed.CHANGE_EQUIPMENT, keyed=True),
        "partial_update": Need(Deed.CHANGE_EQUIPMENT, versioned=True),
        "check_gauge": Need(Deed.RECORD_GAUGE_CHECK),
        "withdraw": Need(Deed.RUN_LOAD),
        "give_back": Need(Deed.CHANGE_EQUIPMENT),
        "equipment": Need(Deed.SEE, Scope.BOARD),
    }

    def rows(self) -> QuerySet[Canner]:
        """All of them."""
        return canners_of(self.here)

    @extend_schema(operation_id="canners_list")
    def list(self, request: Request, kitchen: UUID) -> Response:
        """The canners, with whether each may be used today."""
        return self.page()

    @extend_schema(operation_id="canners_add", request=CannerGiven, responses={201: CannerShown})
    def create(self, request: Request, kitchen: UUID) -> Response:
        """Add a canner. A dial gauge is used once its check is noted (rule S8)."""
        given = self.given(CannerGiven)

        def add() -> Response:
            made = add_canner(kitchen=self.here, actor=self.me, **given)
            return Response(self.told(canners_of(self.here).get(pk=made.pk)), status=201)

        return self.once(add)

    @extend_schema(operation_id="canners_retrieve")
    def retrieve(self, request: Request, kitchen: UUID, canner: UUID) -> HttpResponseBase:
        """One canner."""
        return self.one(self.found(canner))

    @extend_schema(operation_id="canners_change", request=CannerChange, responses=CannerShown)
    def partial_update(self, request: Request, kitchen: UUID, canner: UUID) -> HttpResponseBase:
        """Change what is known of a canner, for instance its own measured times."""
        changes = self.given(CannerChange)
        return self.changed(canner, lambda row: change_canner(canner=row, changes=changes, actor=self.me))

    @extend_schema(
        operation_id="canners_check_gauge", request=GaugeCheckGiven, responses={201: GaugeCheckShown}
    )
    def check_gauge(self, request: Request, kitchen: UUID, canner: UUID) -> Response:
        """Note a gauge check (rule S8). A wrong one is followed by a right one."""
        given, found = self.given(GaugeCheckGiven), self.found(canner)

        def write() -> Response:
            check = record_gauge_check(canner=found, actor=self.me, **given)
            return Response(GaugeCheckShown(check).data, status=201)

        return self.once(write)

    @extend_schema(operation_id="canners_withdraw", request=ReasonGiven, responses=CannerShown)
    def withdraw(self, request: Request, kitchen: UUID, canner: UUID) -> HttpResponseBase:
        """Take a canner out of service."""
        reason = self.given(ReasonGiven)["reason"]
        take_out_of_service(canner=self.found(canner), reason=reason, actor=self.me)
        return self.one(self.found(canner))

    @extend_schema(operation_id="canners_return", request=None, responses=CannerShown)
    def give_back(self, request: Request, kitchen: UUID, canner: UUID) -> HttpResponseBase:
        """Let a withdrawn canner be used again; an untrusted dial gauge still keeps it out."""
        return_to_service(canner=self.found(canner), actor=self.me)
        return self.one(self.found(canner))

    @extend_schema(operation_id="equipment_retrieve", responses=EquipmentShown)
    def equipment(self, request: Request, kitchen: UUID) -> Response:
        """Burners, kettles and cooling tables."""
        told = {
            "burners": self.here.burners.all(),
            "kettles": self.here.kettles.select_related("burner"),
            "cooling_tables": self.here.cooling_tables.all(),
        }
        return Response(EquipmentShown(told).data)
