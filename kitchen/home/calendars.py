"""A person's secret calendar addresses: their own times, a canner, the harvest days, the rota."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_POST, require_safe

from kitchen.calendars.actions import NewFeed, new_address, revoke_feed
from kitchen.calendars.models import Feed, FeedKind
from kitchen.calendars.queries import feeds_of
from kitchen.equipment.models import Canner
from kitchen.equipment.queries import canners_of
from kitchen.members.models import Kitchen, User
from kitchen.members.pages import kitchen_named, person


@dataclass(frozen=True, slots=True)
class Calendar:
    """A calendar that a person may follow; ``feed`` is their standing address of it, if there is one."""

    kind: FeedKind
    canner: Canner | None
    feed: Feed | None

    def __str__(self) -> str:
        return str(self.canner) if self.canner else self.kind.label


@require_safe
def calendars(request: HttpRequest, kitchen: str) -> HttpResponse:
    """Every calendar of the kitchen, with what stands of it."""
    here, me = kitchen_named(request, kitchen), person(request)
    return render(request, "home/calendars.html", {"kitchen": here, "calendars": list(_calendars(here, me))})


@require_POST
def new_feed(request: HttpRequest, kitchen: str, kind: str) -> HttpResponse:
    """Make an address of a calendar that is no canner's, in the place of one made before; it is shown this once."""
    if kind not in FeedKind.values:
        raise Http404
    here, me = kitchen_named(request, kitchen), person(request)
    return _shown(request, here, new_address(user=me, kitchen=here, kind=FeedKind(kind)))


@require_POST
def new_canner_feed(request: HttpRequest, kitchen: str, canner: UUID) -> HttpResponse:
    """Make an address of a canner's calendar likewise."""
    here, me = kitchen_named(request, kitchen), person(request)
    found = get_object_or_404(canners_of(here), uuid=canner)
    return _shown(request, here, new_address(user=me, kitchen=here, kind=FeedKind.CANNER, canner=found))


@require_POST
def end_feed(request: HttpRequest, kitchen: str, feed: int) -> HttpResponse:
    """Make a calendar address dead."""
    here, me = kitchen_named(request, kitchen), person(request)
    revoke_feed(feed=get_object_or_404(Feed, pk=feed, user=me, kitchen=here), actor=me)
    messages.success(request, "That calendar address no longer works.")
    return redirect("home:calendars", here.slug)


def _shown(request: HttpRequest, kitchen: Kitchen, made: NewFeed) -> HttpResponse:
    return render(request, "home/feed.html", {"kitchen": kitchen, "address": made.address, "feed": made.feed})


def _calendars(kitchen: Kitchen, user: User) -> Iterator[Calendar]:
    standing = {(feed.kind, feed.canner_id): feed for feed in feeds_of(user, kitchen)}
    for kind in (FeedKind.MEMBER, FeedKind.DAYS, FeedKind.ROTA):
        yield Calendar(kind, None, standing.get((kind, None)))
    for canner in canners_of(kitchen):
        yield Calendar(FeedKind.CANNER, canner, standing.get((FeedKind.CANNER, canner.pk)))
