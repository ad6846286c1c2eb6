"""Shifts offered to others."""

from __future__ import annotations

from uuid import UUID

from django.db.models import Q, QuerySet
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from kitchen.api.base.access import KitchenView, Need
from kitchen.api.base.fields import Given, RowHere, RowShown
from kitchen.api.base.listing import Listing
from kitchen.api.v1.filters import Filters
from kitchen.api.v1.people import PersonShown
from kitchen.members.models import Kitchen
from kitchen.members.queries import members_of
from kitchen.members.rules import Deed
from kitchen.rota.models import OfferState, Shift, SwapOffer
from kitchen.rota.swaps import accept_offer, offer_swap, withdraw_offer


def _shifts(here: Kitchen) -> QuerySet[Shift]:
    standing = Shift.objects.filter(harvest_day__kitchen=here, cancelled_at__isnull=True)
    return standing.select_related("user", "load__canner", "harvest_day__kitchen")


class OfferShown(RowShown):
    """A shift that its holder would give to another: to anybody unless ``to``, for nothing unless ``wants``.

    It lapses with any change of its shifts; ``state`` may say so only later.
    """

    shift = serializers.UUIDField(source="shift.uuid")
    offered_by = PersonShown()
    to = PersonShown(allow_null=True)
    wants = serializers.UUIDField(source="wants.uuid", allow_null=True, default=None)
    accepted_by = PersonShown(allow_null=True)

    class Meta:
        model = SwapOffer
        fields = (
            *("id", "shift", "offered_by", "to", "wants", "state", "accepted_by", "created_at", "decided_at"),
        )


class OfferGiven(Given):
    """To whom, anybody when left away, and for which of their shifts."""

    to = RowHere(members_of, by="user__uuid", gives="user", required=False, allow_null=True)
    wants = RowHere(_shifts, required=False, allow_null=True)


class OfferFilters(Filters):
    """By harvest day or state."""

    day = filters.UUIDFilter(field_name="shift__harvest_day__uuid")
    state = filters.ChoiceFilter(choices=OfferState.choices)


class Offers(KitchenView):
    """Offers by oneself, to oneself or to anybody; for a lead all."""

    model, shown, filterset_class, within = SwapOffer, OfferShown, OfferFilters, "shift__harvest_day__kitchen"
    listing = Listing(OfferShown)
    needs = {
        "list": Need(Deed.JOIN_ROTA),
        "retrieve": Need(Deed.JOIN_ROTA),
        "create": Need(Deed.JOIN_ROTA),
        "accept": Need(Deed.JOIN_ROTA),
        "destroy": Need(Deed.JOIN_ROTA, versioned=True),
    }

    def rows(self) -> QuerySet[SwapOffer]:
        """With everybody they name."""
        every = SwapOffer.objects.select_related(
            "shift__harvest_day__kitchen", "shift__user", "offered_by", "to", "wants__user", "accepted_by"
        )
        if self.may(Deed.ACT_FOR_OTHERS):
            return every
        return every.filter(Q(to__isnull=True) | Q(to=self.me) | Q(offered_by=self.me))

    @extend_schema(operation_id="swap_offers_list")
    def list(self, request: Request, kitchen: UUID) -> Response:
        """What is offered, and what became of it."""
        return self.page()

    @extend_schema(operation_id="swap_offers_retrieve")
    def retrieve(self, request: Request, kitchen: UUID, offer: UUID) -> HttpResponseBase:
        """One offer."""
        return self.one(self.found(offer))

    @extend_schema(operation_id="swap_offers_make", request=OfferGiven, responses={201: OfferShown})
    def create(self, request: Request, kitchen: UUID, shift: UUID) -> Response:
        """Offer my shift. It stays mine until somebody accepts."""
        given = self.given(OfferGiven)
        mine = get_object_or_404(_shifts(self.here), uuid=shift)

        def make() -> Response:
            offer = offer_swap(shift=mine, actor=self.me, to=given.get("to"), wants=given.get("wants"))
            return Response(self.told(offer), status=201)

        return self.once(make)

    @extend_schema(operation_id="swap_offers_accept", request=None, responses=OfferShown)
    def accept(self, request: Request, kitchen: UUID, offer: UUID) -> HttpResponseBase:
        """Accept an offer: the shift becomes mine, and the one asked for in return the other's."""
        return self.one(accept_offer(offer=self.found(offer), actor=self.me))

    @extend_schema(operation_id="swap_offers_withdraw", responses={204: None})
    def destroy(self, request: Request, kitchen: UUID, offer: UUID) -> HttpResponseBase:
        """Take my offer back before anybody accepts it."""

        def withdraw(row: SwapOffer) -> None:
            withdraw_offer(offer=row, actor=self.me)

        return self.changed(offer, withdraw)
