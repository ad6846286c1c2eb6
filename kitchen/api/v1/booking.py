"""Canner time outside harvest days: searching, holding, booking, moving and giving back."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.http.response import HttpResponseBase
from django.utils import timezone
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from kitchen.api.base.access import KitchenView, Need
from kitchen.api.base.fields import AwareTime, Given, NearDate, RowHere, RowShown
from kitchen.api.bridge import CAUTION
from kitchen.api.models import Scope
from kitchen.api.v1.days import CannerNamed
from kitchen.api.v1.filters import Filters
from kitchen.api.v1.people import PersonShown
from kitchen.batches.bridge import weigh
from kitchen.batches.models import MOST_JARS_IN_BATCH, Jar, Pack, Slot, SlotState
from kitchen.booking.actions import ChosenTime, book_hold, cancel_booking, hold_time, let_go
from kitchen.booking.bridge import Wanted, offers
from kitchen.booking.models import Hold
from kitchen.booking.rules import check_age, check_group
from kitchen.equipment.bridge import why_out_of_service
from kitchen.equipment.queries import canners_of
from kitchen.language.said import said
from kitchen.members.models import Kitchen
from kitchen.members.queries import members_of
from kitchen.members.rules import Deed, check_may_for

_MOST_PEOPLE = 12


def _slots(here: Kitchen) -> QuerySet[Slot]:
    return (
        Slot.objects.filter(kitchen=here)
        .select_related("member", "kitchen", "canner_time__canner", "batch")
        .prefetch_related("canner_time__canner__gauge_checks")
    )


def _holds(here: Kitchen) -> QuerySet[Hold]:
    return Hold.objects.filter(kitchen=here).select_related(
        "member", "kitchen", "canner_time__canner", "replaces", "slot"
    )


class WantedGiven(Given):
    """What is to be canned, how many jars of it, and how many people come, the member counted."""

    food = serializers.CharField(max_length=120)
    pack = serializers.ChoiceField(choices=Pack.choices)
    jar = serializers.ChoiceField(choices=Jar.choices)
    jars = serializers.IntegerField(min_value=1, max_value=MOST_JARS_IN_BATCH)
    people = serializers.IntegerField(min_value=1, max_value=_MOST_PEOPLE, default=1)
    member = RowHere(members_of, by="user__uuid", gives="user", required=False)


class TimesAsked(WantedGiven):
    """From which day on. ``since`` left away: from today."""

    since = NearDate(required=False)


class PhaseOffered(serializers.Serializer[Any]):
    """A phase of an offered load."""

    kind = serializers.CharField()
    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()


class LoadOffered(serializers.Serializer[Any]):
    """A load of an offered time: its jars, its process and its phases."""

    jars = serializers.IntegerField()
    water_jars = serializers.IntegerField()
    process = serializers.CharField()
    publication = serializers.CharField(source="source")
    reading_psi = serializers.FloatField(allow_null=True)
    sterilise_jars = serializers.BooleanField()
    acid = serializers.ListField(child=serializers.CharField())
    phases = serializers.SerializerMethodField()

    def get_phases(self, load: Any) -> list[dict[str, Any]]:
        """In their order."""
        told = [{"kind": kind, "starts_at": start, "ends_at": end} for kind, start, end in load.phases]
        return [dict(one) for one in PhaseOffered(told, many=True).data]


class TimeOffered(serializers.Serializer[Any]):
    """A time in which all of it fits, from prep to cleaning; ``comes_at`` is when the work begins.

    The canner is taken from ``starts_at`` to ``ends_at``. To hold it, send it back as it is.
    """

    canner = CannerNamed()
    arrives_at = serializers.DateTimeField()
    comes_at = serializers.DateTimeField()
    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()
    loads = LoadOffered(many=True)


class TimesFound(serializers.Serializer[Any]):
    """The first times that fit, and the caution."""

    times = TimeOffered(many=True)
    caution = serializers.CharField()


class Times(KitchenView):
    """Where a time is free."""

    model, shown = Slot, TimesFound
    needs = {"search": Need(Deed.BOOK_SLOT, Scope.BOOK)}

    @extend_schema(operation_id="times_search", parameters=[TimesAsked], responses=TimesFound)
    def search(self, request: Request, kitchen: UUID) -> Response:
        """The first times that fit what is wanted, over the next days. Refused as declaring it would be (rule S1)."""
        asked, now = self.asked(TimesAsked), timezone.now()
        member = asked.get("member", self.me)
        check_may_for(self.me, member, self.here, Deed.BOOK_SLOT)
        wanted = wanted_of(self.here, asked)
        check_group(self.here, wanted.people)
        check_age(self.here, member)
        first = asked.get("since") or now.astimezone(self.here.zone).date()
        found = offers(self.here, member, wanted, first, now)
        return Response(TimesFound({"times": found, "caution": CAUTION}).data)


class HoldGiven(WantedGiven):
    """A time as it was offered. ``replaces``: the slot that it would move."""

    canner = RowHere(canners_of)
    arrives_at = AwareTime()
    starts_at = AwareTime()
    ends_at = AwareTime()
    replaces = RowHere(_slots, owner="member", required=False, allow_null=True)


class HoldShown(RowShown):
    """A time that is held until ``held_until``; then it is free for others, and may be booked if it still is."""

    member = PersonShown()
    canner = CannerNamed(source="canner_time.canner")
    starts_at = serializers.DateTimeField(source="canner_time.starts_at")
    ends_at = serializers.DateTimeField(source="canner_time.ends_at")
    held_until = serializers.DateTimeField(source="canner_time.held_until", allow_null=True)
    replaces = serializers.UUIDField(source="replaces.uuid", allow_null=True, default=None)
    slot = serializers.UUIDField(source="slot.uuid", allow_null=True, default=None)

    class Meta:
        model = Hold
        fields = (
            *("id", "member", "canner", "food_id", "pack", "jar", "jars", "people", "arrives_at", "comes_at"),
            *("starts_at", "ends_at", "held_until", "let_go_at", "replaces", "slot"),
        )


class Holds(KitchenView):
    """Times that are held."""

    model, shown = Hold, HoldShown
    needs = {
        "create": Need(Deed.BOOK_SLOT, Scope.BOOK, keyed=True),
        "retrieve": Need(Deed.BOOK_SLOT, Scope.BOOK),
        "destroy": Need(Deed.BOOK_SLOT, Scope.BOOK, versioned=True),
    }

    def rows(self) -> QuerySet[Hold]:
        """One's own, for a lead everybody's."""
        every = _holds(self.here)
        return every if self.may(Deed.ACT_FOR_OTHERS) else every.filter(member=self.me)

    @extend_schema(operation_id="holds_create", request=HoldGiven, responses={201: HoldShown})
    def create(self, request: Request, kitchen: UUID) -> Response:
        """Hold a time as it was offered, for some minutes; what was held before is let go."""
        given = self.given(HoldGiven)
        times = {name: given[name] for name in ("canner", "arrives_at", "starts_at", "ends_at")}

        def hold() -> Response:
            held = hold_time(
                kitchen=self.here,
                member=given.get("member", self.me),
                wanted=wanted_of(self.here, given),
                chosen=ChosenTime(**times),
                replaces=given.get("replaces"),
                actor=self.me,
            )
            return Response(self.told(held), status=201)

        return self.once(hold)

    @extend_schema(operation_id="holds_retrieve")
    def retrieve(self, request: Request, kitchen: UUID, hold: UUID) -> HttpResponseBase:
        """A time that is held, or was."""
        return self.one(self.found(hold))

    @extend_schema(operation_id="holds_let_go", responses={204: None})
    def destroy(self, request: Request, kitchen: UUID, hold: UUID) -> HttpResponseBase:
        """Let it go."""
        return self.changed(hold, lambda row: let_go(hold=row, actor=self.me))


class SlotGiven(Given):
    """What is held, and who watches the canner for a member without training (rule S9)."""

    hold = RowHere(_holds, owner="member")
    watcher = RowHere(members_of, by="user__uuid", gives="user", required=False, allow_null=True)


class SlotShown(RowShown):
    """Canner time that is booked. ``sequence`` rises with every change.

    ``doubt`` says why the canner must not be used then, as things are now (rule S8); empty while it may.
    """

    member = PersonShown()
    canner = CannerNamed(source="canner_time.canner")
    starts_at = serializers.DateTimeField(source="canner_time.starts_at")
    ends_at = serializers.DateTimeField(source="canner_time.ends_at")
    batch = serializers.UUIDField(source="batch.uuid", allow_null=True, default=None)
    doubt = serializers.SerializerMethodField()

    class Meta:
        model = Slot
        fields = (
            *("id", "member", "canner", "starts_at", "ends_at", "batch", "state", "sequence"),
            *("booked_at", "changed_at", "cancelled_at", "doubt"),
        )

    def get_doubt(self, slot: Slot) -> str:
        """The reason, while the booking stands."""
        if slot.state != SlotState.BOOKED:
            return ""
        time = slot.canner_time
        return said(why_out_of_service(time.canner, time.starts_at.astimezone(slot.kitchen.zone).date()))


class SlotFilters(Filters):
    """By state, canner, or from when on."""

    state = filters.ChoiceFilter(choices=SlotState.choices)
    canner = filters.UUIDFilter(field_name="canner_time__canner__uuid")
    since = filters.DateFilter(field_name="canner_time__ends_at", lookup_expr="date__gte")


class Slots(KitchenView):
    """Booked canner time."""

    model, shown, filterset_class = Slot, SlotShown, SlotFilters
    needs = {
        "list": Need(Deed.BOOK_SLOT, Scope.BOOK),
        "retrieve": Need(Deed.BOOK_SLOT, Scope.BOOK),
        "create": Need(Deed.BOOK_SLOT, Scope.BOOK, keyed=True),
        "destroy": Need(Deed.BOOK_SLOT, Scope.BOOK, versioned=True),
    }

    def rows(self) -> QuerySet[Slot]:
        """One's own, for a lead everybody's."""
        every = _slots(self.here)
        return every if self.may(Deed.ACT_FOR_OTHERS) else every.filter(member=self.me)

    @extend_schema(operation_id="slots_list")
    def list(self, request: Request, kitchen: UUID) -> Response:
        """What I booked; for a lead, what anybody did."""
        return self.page()

    @extend_schema(operation_id="slots_retrieve")
    def retrieve(self, request: Request, kitchen: UUID, slot: UUID) -> HttpResponseBase:
        """One booking."""
        return self.one(self.found(slot))

    @extend_schema(operation_id="slots_book", request=SlotGiven, responses={201: SlotShown})
    def create(self, request: Request, kitchen: UUID) -> Response:
        """Book what is held; a hold that replaces a slot moves that slot."""
        given = self.given(SlotGiven)

        def book() -> Response:
            slot = book_hold(hold=given["hold"], actor=self.me, watcher=given.get("watcher"))
            return Response(self.told(slot), status=201)

        return self.once(book)

    @extend_schema(operation_id="slots_cancel", responses={204: None})
    def destroy(self, request: Request, kitchen: UUID, slot: UUID) -> HttpResponseBase:
        """Give canner time back, and take back what was to be canned in it."""

        def cancel(row: Slot) -> None:
            cancel_booking(slot=row, actor=self.me)

        return self.changed(slot, cancel)


def wanted_of(kitchen: Kitchen, given: dict[str, Any]) -> Wanted:
    """With the food by its id, whatever name was sent. Refused as declaring it would be."""
    what = {name: given[name] for name in ("food", "pack", "jar")}
    makes = weigh(kitchen=kitchen, amount=given["jars"], unit="jars", **what)
    return Wanted(
        food_id=makes.food_id,
        pack=given["pack"],
        jar=given["jar"],
        jars=given["jars"],
        people=given["people"],
    )
