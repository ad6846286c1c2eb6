"""One's notices, and the addresses of one's calendars."""

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
from kitchen.api.base.fields import Given, RowHere, Shown
from kitchen.api.base.listing import Listing
from kitchen.api.v1.days import CannerNamed
from kitchen.calendars.actions import new_address, revoke_feed
from kitchen.calendars.models import Feed, FeedKind
from kitchen.calendars.queries import feeds_of
from kitchen.equipment.queries import canners_of
from kitchen.language.said import said
from kitchen.members.rules import Deed
from kitchen.reminders.actions import see_notice
from kitchen.reminders.models import Notice
from kitchen.reminders.queries import notices_of
from kitchen.reminders.words import NewsWords, said_of


class NoticeShown(Shown):
    """A notice in words, worked out for now. ``link`` leads to the page where something can be done."""

    id = serializers.IntegerField()
    kind = serializers.CharField(source="reminder.kind")
    title = serializers.CharField(source="words.title")
    lines = serializers.SerializerMethodField()

    class Meta:
        model = Notice
        fields = ("id", "kind", "title", "lines", "created_at", "seen_at")

    def to_representation(self, instance: Notice) -> dict[str, Any]:
        """With its words found once."""
        instance.words = said_of(instance.reminder, now=timezone.now())  # type: ignore[attr-defined]
        return super().to_representation(instance)

    def get_lines(self, notice: Notice) -> list[str]:
        """The sentences, one after the other."""
        words = notice.words  # type: ignore[attr-defined]  # Set above.
        if isinstance(words, NewsWords):
            lines = words.lines
        else:
            lines = (*words.jars, words.timing, words.hold, words.bands_off, *words.tests, *words.unsealed)
        return [said(line) for line in (*lines, words.caution) if line]


class Notices(KitchenView):
    """One's own notices."""

    model, shown, within = Notice, NoticeShown, "reminder__kitchen"
    needs = {"list": Need(Deed.SEE), "see": Need(Deed.SEE)}

    def rows(self) -> QuerySet[Notice]:
        """One's own."""
        return notices_of(self.me, self.here)

    @extend_schema(operation_id="notices_list")
    def list(self, request: Request, kitchen: UUID) -> Response:
        """My notices, the newest first."""
        return self.page()

    @extend_schema(operation_id="notices_see", request=None, responses={204: None})
    def see(self, request: Request, kitchen: UUID, notice: int) -> Response:
        """Note that I have looked at it."""
        see_notice(notice=self.found(notice, by="pk"), actor=self.me)
        return Response(status=204)


class FeedShown(Shown):
    """A calendar address that stands; the address itself was told once."""

    id = serializers.IntegerField()
    canner = CannerNamed(allow_null=True)

    class Meta:
        model = Feed
        fields = ("id", "kind", "canner", "created_at")


class FeedMade(FeedShown):
    """With its address, told this once. Whoever has it can read the calendar."""

    address = serializers.URLField()

    class Meta(FeedShown.Meta):
        fields = (*FeedShown.Meta.fields, "address")  # type: ignore[assignment]


class FeedGiven(Given):
    """Which calendar; ``canner`` for that of one canner."""

    kind = serializers.ChoiceField(choices=FeedKind.choices, default=FeedKind.MEMBER)
    canner = RowHere(canners_of, required=False, allow_null=True)


class Feeds(KitchenView):
    """One's own calendar addresses."""

    model, shown = Feed, FeedShown
    listing = Listing(FeedShown)
    needs = {
        "list": Need(Deed.SEE),
        "retrieve": Need(Deed.SEE),
        "create": Need(Deed.SEE),
        "destroy": Need(Deed.SEE, versioned=True),
    }

    def rows(self) -> QuerySet[Feed]:
        """Those that stand."""
        return feeds_of(self.me, self.here)

    @extend_schema(operation_id="feeds_list")
    def list(self, request: Request, kitchen: UUID) -> Response:
        """My calendar addresses, without the addresses themselves."""
        return self.page()

    @extend_schema(operation_id="feeds_retrieve")
    def retrieve(self, request: Request, kitchen: UUID, feed: int) -> HttpResponseBase:
        """One of them."""
        return self.one(self.found(feed, by="pk"))

    @extend_schema(operation_id="feeds_make", request=FeedGiven, responses={201: FeedMade})
    def create(self, request: Request, kitchen: UUID) -> Response:
        """Make a calendar address, in the place of one made before, which ends. It is told this once."""
        given = self.given(FeedGiven)
        kind, canner = FeedKind(given["kind"]), given.get("canner")
        made = new_address(user=self.me, kitchen=self.here, kind=kind, canner=canner)
        made.feed.address = made.address  # type: ignore[attr-defined]  # For this answer alone.
        return Response(FeedMade(made.feed).data, status=201)

    @extend_schema(operation_id="feeds_end", responses={204: None})
    def destroy(self, request: Request, kitchen: UUID, feed: int) -> HttpResponseBase:
        """End an address at once."""
        return self.changed(feed, lambda row: revoke_feed(feed=row, actor=self.me), by="pk")
