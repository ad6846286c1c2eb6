"""What members bring."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import Q, QuerySet
from django.http.response import HttpResponseBase
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from kitchen.api.base.access import KitchenView, Need
from kitchen.api.base.fields import AwareTime, Given, RowHere, RowShown
from kitchen.api.base.listing import Listing
from kitchen.api.v1.filters import Filters
from kitchen.api.v1.people import PersonShown
from kitchen.batches.actions import cancel_batch, change_batch, declare_batch, receive_batch
from kitchen.batches.bridge import weigh
from kitchen.batches.models import MOST_JARS_IN_BATCH, Batch, BatchState, Jar, Pack, Unit
from kitchen.members.queries import members_of
from kitchen.members.rules import Deed
from kitchen.planning.queries import days_of


class BatchShown(RowShown):
    """A batch. ``jars_low`` to ``jars_high`` is the published yield, ``jars`` what is planned."""

    member = PersonShown()
    day = serializers.UUIDField(source="harvest_day.uuid", allow_null=True, default=None)

    class Meta:
        model = Batch
        fields = (
            *("id", "member", "day", "food_id", "food_name", "pack", "jar", "amount", "unit"),
            *("jars_low", "jars_high", "jars", "arrives_at", "picks_up_at", "state", "declared_at"),
        )


class _Amount(Given):
    food = serializers.CharField(max_length=120)
    pack = serializers.ChoiceField(choices=Pack.choices)
    jar = serializers.ChoiceField(choices=Jar.choices)
    amount = serializers.DecimalField(max_digits=8, decimal_places=2, min_value=0)
    unit = serializers.ChoiceField(choices=Unit.choices)


class BatchGiven(_Amount):
    """What will be brought, when, and for which harvest day; by a lead also for somebody else."""

    arrives_at = AwareTime()
    picks_up_at = AwareTime()
    day = RowHere(days_of, required=False, allow_null=True, gives="pk")
    member = RowHere(members_of, by="user__uuid", gives="user", required=False)


class BatchChange(Given):
    """What changes of a batch; what is not named stays. Another jar needs its number of jars."""

    pack = serializers.ChoiceField(choices=Pack.choices, required=False)
    jar = serializers.ChoiceField(choices=Jar.choices, required=False)
    jars = serializers.IntegerField(min_value=1, max_value=MOST_JARS_IN_BATCH, required=False)
    arrives_at = AwareTime(required=False)
    picks_up_at = AwareTime(required=False)


class Arrival(Given):
    """How many jars it makes, now that it is here; left away where nothing changes."""

    jars = serializers.IntegerField(min_value=1, max_value=MOST_JARS_IN_BATCH, required=False)


class Makes(serializers.Serializer[Any]):
    """How many jars an amount makes by the published yield."""

    food_id = serializers.CharField()
    food_name = serializers.CharField()
    jars_low = serializers.IntegerField()
    jars_high = serializers.IntegerField()
    notes = serializers.ListField(child=serializers.CharField())


class BatchFilters(Filters):
    """By harvest day, state, or whose it is."""

    day = filters.UUIDFilter(field_name="harvest_day__uuid")
    state = filters.ChoiceFilter(choices=BatchState.choices)
    member = filters.UUIDFilter(field_name="member__uuid")


class Batches(KitchenView):
    """Batches: one's own, those of harvest days, and for a lead all."""

    model, shown, filterset_class = Batch, BatchShown, BatchFilters
    listing = Listing(BatchShown)
    needs = {
        "list": Need(Deed.SEE),
        "retrieve": Need(Deed.SEE),
        "create": Need(Deed.DECLARE_BATCH, keyed=True),
        "partial_update": Need(Deed.DECLARE_BATCH, versioned=True),
        "destroy": Need(Deed.DECLARE_BATCH, versioned=True),
        "arrival": Need(Deed.RECEIVE_BATCH),
        "estimate": Need(Deed.SEE),
    }

    def rows(self) -> QuerySet[Batch]:
        """What is brought to a harvest day is everybody's to see; what somebody cans alone is theirs."""
        every = Batch.objects.select_related("member", "harvest_day", "kitchen")
        if self.may(Deed.ACT_FOR_OTHERS):
            return every
        return every.filter(Q(member=self.me) | Q(harvest_day__isnull=False))

    @extend_schema(operation_id="batches_list")
    def list(self, request: Request, kitchen: UUID) -> Response:
        """What is brought."""
        return self.page()

    @extend_schema(operation_id="batches_retrieve")
    def retrieve(self, request: Request, kitchen: UUID, batch: UUID) -> HttpResponseBase:
        """One batch."""
        return self.one(self.found(batch))

    @extend_schema(operation_id="batches_declare", request=BatchGiven, responses={201: BatchShown})
    def create(self, request: Request, kitchen: UUID) -> Response:
        """Say what I will bring. Refused where nothing is published for it here (rule S1)."""
        given = self.given(BatchGiven)
        member, day = given.pop("member", self.me), given.pop("day", None)

        def declare() -> Response:
            batch = declare_batch(
                kitchen=self.here, member=member, harvest_day_id=day, actor=self.me, **given
            )
            return Response(self.told(batch), status=201)

        return self.once(declare)

    @extend_schema(operation_id="batches_change", request=BatchChange, responses=BatchShown)
    def partial_update(self, request: Request, kitchen: UUID, batch: UUID) -> HttpResponseBase:
        """Change how it is packed, how many jars it makes, or when it comes and goes."""
        given = self.given(BatchChange)
        return self.changed(batch, lambda row: change_batch(batch=row, actor=self.me, **given))

    @extend_schema(operation_id="batches_take_back", responses={204: None})
    def destroy(self, request: Request, kitchen: UUID, batch: UUID) -> HttpResponseBase:
        """Take a batch back before any of it is in a canner."""

        def cancel(row: Batch) -> None:
            cancel_batch(batch=row, actor=self.me)

        return self.changed(batch, cancel)

    @extend_schema(operation_id="batches_arrival", request=Arrival, responses=BatchShown)
    def arrival(self, request: Request, kitchen: UUID, batch: UUID) -> HttpResponseBase:
        """Note that it has come, and how many jars it makes."""
        given = self.given(Arrival)
        return self.one(receive_batch(batch=self.found(batch), actor=self.me, jars=given.get("jars")))

    @extend_schema(operation_id="batches_estimate", parameters=[_Amount], responses=Makes, filters=False)
    def estimate(self, request: Request, kitchen: UUID) -> Response:
        """What an amount would make here; refused as declaring it would be. Nothing is written."""
        return Response(Makes(weigh(kitchen=self.here, **self.asked(_Amount))).data)
