"""Waiting for canner time on a full day."""

from __future__ import annotations

from uuid import UUID

from django.db.models import QuerySet
from django.http.response import HttpResponseBase
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from kitchen.api.base.access import KitchenView, Need
from kitchen.api.base.fields import NearDate, RowShown
from kitchen.api.base.listing import Listing
from kitchen.api.models import Scope
from kitchen.api.v1.booking import WantedGiven, wanted_of
from kitchen.api.v1.people import PersonShown
from kitchen.booking.models import Waiting
from kitchen.booking.waiting import stop_waiting, wait_for
from kitchen.members.rules import Deed


class WaitingGiven(WantedGiven):
    """What is to be canned, and on which day."""

    day = NearDate()


class WaitingShown(RowShown):
    """Who waits for a time on which day. ``told_at``: when one was free; ``ended_at``: when they stopped waiting."""

    member = PersonShown()

    class Meta:
        model = Waiting
        fields = (
            *(
                "id",
                "member",
                "day",
                "food_id",
                "pack",
                "jar",
                "jars",
                "people",
                "asked_at",
                "told_at",
                "ended_at",
            ),
        )


class WaitingList(KitchenView):
    """One's own, for a lead everybody's."""

    model, shown = Waiting, WaitingShown
    listing = Listing(WaitingShown)
    needs = {
        "list": Need(Deed.BOOK_SLOT, Scope.BOOK),
        "retrieve": Need(Deed.BOOK_SLOT, Scope.BOOK),
        "create": Need(Deed.BOOK_SLOT, Scope.BOOK, keyed=True),
        "destroy": Need(Deed.BOOK_SLOT, Scope.BOOK, versioned=True),
    }

    def rows(self) -> QuerySet[Waiting]:
        """Those that are over as well."""
        every = Waiting.objects.select_related("member", "kitchen")
        return every if self.may(Deed.ACT_FOR_OTHERS) else every.filter(member=self.me)

    @extend_schema(operation_id="waiting_list")
    def list(self, request: Request, kitchen: UUID) -> Response:
        """For what I wait; for a lead, for what anybody does."""
        return self.page()

    @extend_schema(operation_id="waiting_retrieve")
    def retrieve(self, request: Request, kitchen: UUID, waiting: UUID) -> HttpResponseBase:
        """One of them."""
        return self.one(self.found(waiting))

    @extend_schema(operation_id="waiting_begin", request=WaitingGiven, responses={201: WaitingShown})
    def create(self, request: Request, kitchen: UUID) -> Response:
        """Wait for a time on a full day. Refused while one fits."""
        given = self.given(WaitingGiven)

        def wait() -> Response:
            waiting = wait_for(
                kitchen=self.here,
                member=given.get("member", self.me),
                wanted=wanted_of(self.here, given),
                day=given["day"],
                actor=self.me,
            )
            return Response(self.told(waiting), status=201)

        return self.once(wait)

    @extend_schema(operation_id="waiting_stop", responses={204: None})
    def destroy(self, request: Request, kitchen: UUID, waiting: UUID) -> HttpResponseBase:
        """Wait no longer."""
        return self.changed(waiting, lambda row: stop_waiting(waiting=row, actor=self.me))
