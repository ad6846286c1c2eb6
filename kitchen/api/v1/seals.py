"""Jars that are out: who must count them, counting their seals, and declining to process them again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from uuid import UUID

from django.db.models import Prefetch, QuerySet
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from kitchen.api.base.access import KitchenView, Need
from kitchen.api.base.fields import AwareTime, Given, RowShown, Shown
from kitchen.api.base.listing import Listing
from kitchen.api.bridge import CAUTION
from kitchen.api.v1.filters import Filters
from kitchen.api.v1.people import PersonShown
from kitchen.batches.models import MOST_JARS_IN_BATCH
from kitchen.members.rules import Deed
from kitchen.planning.models import LoadPortion, LoadState
from kitchen.seals.actions import decide_offer, record_seal_check
from kitchen.seals.models import ReprocessOffer, SealCheck


class CheckShown(Shown):
    """What was counted."""

    id = serializers.IntegerField()
    checked_by = PersonShown()

    class Meta:
        model = SealCheck
        fields = ("id", "sealed", "unsealed", "broken", "checked_by", "checked_at", "recorded_at")


class AgainShown(Shown):
    """Jars that did not seal: the same full process again, to be begun before ``deadline`` (rule S11)."""

    class Meta:
        model = ReprocessOffer
        fields = ("jars", "deadline", "state")


class PortionShown(RowShown):
    """The jars of one batch in one load. ``check`` is the count that stands, None before the first."""

    load = serializers.UUIDField(source="load.uuid")
    day = serializers.UUIDField(source="load.harvest_day.uuid")
    batch = serializers.UUIDField(source="batch.uuid")
    lot_code = serializers.CharField(source="load.lot_code")
    food = serializers.CharField(source="batch.food_name")
    jar = serializers.CharField(source="batch.jar")
    member = PersonShown(source="batch.member")
    jars_out_at = serializers.DateTimeField(source="load.jars_out_at", allow_null=True)
    on_hold = serializers.BooleanField(source="load.on_hold")
    check = serializers.SerializerMethodField()
    again = serializers.SerializerMethodField()

    class Meta:
        model = LoadPortion
        fields = (
            *("id", "load", "day", "batch", "lot_code", "food", "jar", "member", "jars", "jars_out_at"),
            *("on_hold", "check", "again"),
        )

    @extend_schema_field(CheckShown(allow_null=True))
    def get_check(self, portion: LoadPortion) -> dict[str, Any] | None:
        """The newest, which nothing corrects."""
        standing = list(portion.standing_checks)  # type: ignore[attr-defined]  # Read beforehand by the view.
        return dict(CheckShown(standing[0]).data) if standing else None

    @extend_schema_field(AgainShown(allow_null=True))
    def get_again(self, portion: LoadPortion) -> dict[str, Any] | None:
        """What was offered for those that did not seal."""
        offer = getattr(portion, "reprocess_offer", None)
        return dict(AgainShown(offer).data) if offer else None


class CountGiven(Given):
    """Jars sealed, unsealed and broken, which add up to those that went in. ``correct``: a count before was wrong."""

    sealed = serializers.IntegerField(min_value=0, max_value=MOST_JARS_IN_BATCH)
    unsealed = serializers.IntegerField(min_value=0, max_value=MOST_JARS_IN_BATCH)
    broken = serializers.IntegerField(min_value=0, max_value=MOST_JARS_IN_BATCH)
    at = AwareTime(required=False)
    correct = serializers.BooleanField(default=False)


class CountedShown(serializers.Serializer[Any]):
    """The count, and what to do with jars that did not seal."""

    check = CheckShown()
    again = AgainShown(allow_null=True)
    advice = serializers.CharField(allow_blank=True)
    caution = serializers.CharField()


_CHECKS = Listing(CheckShown)


def _checks(portions: Sequence[int]) -> Mapping[int, object]:
    standing = SealCheck.objects.filter(portion__in=portions, corrected_by__isnull=True).order_by("pk")
    return {portion: told[0] for portion, told in _CHECKS.told_by("portion", standing).items()}


_PORTIONS = Listing(
    PortionShown,
    parts={"again": (AgainShown, "reprocess_offer")},
    beside={"check": _checks},
    without=lambda: None,
)


class PortionFilters(Filters):
    """By harvest day or batch, or those that wait to be counted."""

    day = filters.UUIDFilter(field_name="load__harvest_day__uuid")
    batch = filters.UUIDFilter(field_name="batch__uuid")
    to_count = filters.BooleanFilter(method="waiting")

    def waiting(self, rows: QuerySet[LoadPortion], name: str, wanted: bool) -> QuerySet[LoadPortion]:
        """Out, and not counted yet; or all others."""
        return rows.filter(load__state=LoadState.OUT, seal_checks__isnull=True) if wanted else rows


class Portions(KitchenView):
    """Jars, load by load: one's own, for whoever runs canners everybody's."""

    model, shown, filterset_class = LoadPortion, PortionShown, PortionFilters
    within = "load__harvest_day__kitchen"
    listing = _PORTIONS
    needs = {
        "list": Need(Deed.COUNT_OWN_JARS),
        "retrieve": Need(Deed.COUNT_OWN_JARS),
        "count": Need(Deed.COUNT_OWN_JARS),
        "decline": Need(Deed.COUNT_OWN_JARS),
    }

    def rows(self) -> QuerySet[LoadPortion]:
        """With the count that stands."""
        standing = SealCheck.objects.filter(corrected_by__isnull=True).select_related("checked_by")
        every = (
            LoadPortion.objects.exclude(load__state=LoadState.CANCELLED)
            .select_related("load__harvest_day__kitchen", "load__canner", "batch__member", "reprocess_offer")
            .prefetch_related(Prefetch("seal_checks", queryset=standing, to_attr="standing_checks"))
        )
        return every if self.may(Deed.COUNT_ANY_JARS) else every.filter(batch__member=self.me)

    @extend_schema(operation_id="portions_list")
    def list(self, request: Request, kitchen: UUID) -> Response:
        """Jars, with their lot, their count and what was offered."""
        return self.page()

    @extend_schema(operation_id="portions_retrieve")
    def retrieve(self, request: Request, kitchen: UUID, portion: UUID) -> HttpResponseBase:
        """The jars of one batch in one load."""
        return self.one(self.found(portion))

    @extend_schema(operation_id="portions_count", request=CountGiven, responses={201: CountedShown})
    def count(self, request: Request, kitchen: UUID, portion: UUID) -> Response:
        """Count the seals, not before 12 hours (rule S11)."""
        given, found = self.given(CountGiven), self.found(portion)

        def write() -> Response:
            done = record_seal_check(portion=found, by=self.me, **given)
            told = {"check": done.check, "again": done.offer, "advice": done.advice, "caution": CAUTION}
            return Response(CountedShown(told).data, status=201)

        return self.once(write)

    @extend_schema(operation_id="portions_decline", request=None, responses=AgainShown)
    def decline(self, request: Request, kitchen: UUID, portion: UUID) -> Response:
        """Not process them again: they go into the refrigerator and are used soon."""
        offers = ReprocessOffer.objects.select_related(
            "portion__batch", "portion__load__harvest_day__kitchen"
        )
        offer = get_object_or_404(offers, portion=self.found(portion))
        return Response(AgainShown(decide_offer(offer=offer, accept=False, actor=self.me)).data)
