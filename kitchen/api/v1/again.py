"""Jars that did not seal, booked for the same full process again (rule S11)."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.http import Http404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from kitchen.api.base.access import KitchenView, Need
from kitchen.api.base.fields import Given, RowHere
from kitchen.api.bridge import CAUTION
from kitchen.members.queries import members_of
from kitchen.members.rules import Deed
from kitchen.planning.models import LoadPortion
from kitchen.reprocess.actions import book_again
from kitchen.reprocess.bridge import ways_for
from kitchen.reprocess.rules import deadline_of
from kitchen.seals.models import ReprocessOffer
from kitchen.seals.rules import can_count

_LONGEST_WAY = 200


class WayShown(serializers.Serializer[Any]):
    """A time for the jars: on a harvest day that is planned, or canner time of their own. ``key`` chooses it."""

    key = serializers.CharField()
    comes_at = serializers.DateTimeField()
    closes_at = serializers.DateTimeField()


class WaysShown(serializers.Serializer[Any]):
    """The first way that fits before the deadline, null for none, and why other days do not serve."""

    deadline = serializers.DateTimeField()
    first = WayShown(allow_null=True)
    why_not = serializers.ListField(child=serializers.CharField())
    caution = serializers.CharField()


class WayGiven(Given):
    """The way as it was told, and who watches the canner for a member without training (rule S9)."""

    way = serializers.CharField(max_length=_LONGEST_WAY)
    watcher = RowHere(members_of, by="user__uuid", gives="user", required=False, allow_null=True)


class BookedAgain(serializers.Serializer[Any]):
    """The batch that the jars are now, and its harvest day."""

    batch = serializers.UUIDField(source="batch.uuid")
    day = serializers.UUIDField(source="batch.harvest_day.uuid")
    jars = serializers.IntegerField(source="batch.jars")


class Again(KitchenView):
    """The next time for jars that did not seal: one's own, for operators and leads anybody's."""

    model, shown, within = ReprocessOffer, WaysShown, "portion__load__harvest_day__kitchen"
    needs = {"ways": Need(Deed.COUNT_OWN_JARS), "create": Need(Deed.COUNT_OWN_JARS, keyed=True)}

    def rows(self) -> QuerySet[ReprocessOffer]:
        """With what is asked of them."""
        return ReprocessOffer.objects.select_related(
            *("portion__batch__kitchen", "portion__batch__member", "portion__load__harvest_day__kitchen")
        )

    @extend_schema(operation_id="portions_ways_again", responses=WaysShown)
    def ways(self, request: Request, kitchen: UUID, portion: UUID) -> Response:
        """When the jars of this portion that did not seal could be processed again."""
        offer, now = self._offer(portion), timezone.now()
        found = ways_for(offer, now)
        told = {
            "deadline": deadline_of(offer),
            "first": found.first,
            "why_not": found.why_not,
            "caution": CAUTION,
        }
        return Response(WaysShown(told).data)

    @extend_schema(operation_id="portions_book_again", request=WayGiven, responses={201: BookedAgain})
    def create(self, request: Request, kitchen: UUID, portion: UUID) -> Response:
        """Book that time. Refused when it no longer fits."""
        given, offer = self.given(WayGiven), self._offer(portion)

        def book() -> Response:
            booked = book_again(offer=offer, key=given["way"], actor=self.me, watcher=given.get("watcher"))
            return Response(BookedAgain(booked).data, status=201)

        return self.once(book)

    def _offer(self, portion: UUID) -> ReprocessOffer:
        offer: ReprocessOffer = self.found(portion, by="portion__uuid")
        if not can_count(self.me, LoadPortion.objects.get(pk=offer.portion_id)):
            raise Http404
        return offer
