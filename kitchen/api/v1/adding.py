"""Adding what stands beside the canners."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from kitchen.api.base.access import KitchenView, Need
from kitchen.api.base.fields import Given, RowHere
from kitchen.api.v1.equipment import (
    BurnerShown,
    CannerShown,
    KettleShown,
    TableShown,
    burners_in,
)
from kitchen.equipment.actions import add_burner, add_cooling_table, add_kettle
from kitchen.equipment.models import Canner
from kitchen.members.rules import Deed

# Guards against slips of typing, not figures of the trade.
_MOST_WATTS, _MOST_QUARTS, _MOST_SQUARE_INCHES = 40_000, 400, 100_000


class BurnerGiven(Given):
    """A cooking place, with the share of its power that reaches the water."""

    name = serializers.CharField(max_length=60)
    power_w = serializers.IntegerField(min_value=1, max_value=_MOST_WATTS)
    efficiency = serializers.FloatField(min_value=0.05, max_value=1)


class KettleGiven(Given):
    """A pot for hot pack food, with its place where it has one of its own."""

    name = serializers.CharField(max_length=60)
    volume_qt = serializers.FloatField(min_value=0.5, max_value=_MOST_QUARTS)
    burner = RowHere(burners_in, required=False, allow_null=True)


class CoolingTableGiven(Given):
    """Where jars stand after unloading."""

    name = serializers.CharField(max_length=60)
    area_sq_in = serializers.FloatField(min_value=1, max_value=_MOST_SQUARE_INCHES)


class Adding(KitchenView):
    """What a lead adds."""

    model, shown = Canner, CannerShown
    needs = {name: Need(Deed.CHANGE_EQUIPMENT, keyed=True) for name in ("burner", "kettle", "cooling_table")}

    @extend_schema(operation_id="burners_add", request=BurnerGiven, responses={201: BurnerShown})
    def burner(self, request: Request, kitchen: UUID) -> Response:
        """Add a burner."""
        return self._added(BurnerGiven, add_burner, BurnerShown)

    @extend_schema(operation_id="kettles_add", request=KettleGiven, responses={201: KettleShown})
    def kettle(self, request: Request, kitchen: UUID) -> Response:
        """Add a kettle."""
        return self._added(KettleGiven, add_kettle, KettleShown)

    @extend_schema(operation_id="cooling_tables_add", request=CoolingTableGiven, responses={201: TableShown})
    def cooling_table(self, request: Request, kitchen: UUID) -> Response:
        """Add a cooling table."""
        return self._added(CoolingTableGiven, add_cooling_table, TableShown)

    def _added(
        self, form: type[Given], add: Callable[..., object], shown: type[serializers.BaseSerializer[Any]]
    ) -> Response:
        given = self.given(form)
        return self.once(
            lambda: Response(shown(add(kitchen=self.here, actor=self.me, **given)).data, status=201)
        )
