"""Making, changing and revoking the secret addresses of feeds."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from secrets import token_urlsafe

from django.conf import settings
from django.db import transaction
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from kitchen.audit.actions import record
from kitchen.calendars.models import Feed, FeedKind
from kitchen.calendars.queries import digest_of, feeds_of
from kitchen.equipment.models import Canner
from kitchen.errors import AlreadyDecided, BadSetting
from kitchen.members.models import Kitchen, User
from kitchen.members.rules import Deed, check_may

_SECRET_BYTES = 32
# Clients ask every few minutes; when a feed was last used need not be known more exactly than this.
_FETCH_NOTED_EVERY = timedelta(hours=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class NewFeed:
    """A feed and its address. The address can be shown now and never again."""

    feed: Feed
    address: str


@transaction.atomic
def create_feed(*, user: User, kitchen: Kitchen, kind: FeedKind, canner: Canner | None = None) -> NewFeed:
    """Make a person's own address for a calendar; ``canner`` goes with the kind of one canner, and no other.

    ``AlreadyDecided`` when one stands already; ``BadSetting`` for a canner missing, too many, or of another
    kitchen.
    """
    check_may(user, kitchen, Deed.SEE)
    _check_canner(kind, canner, kitchen)
    if feeds_of(user, kitchen).filter(kind=kind, canner=canner).exists():
        raise AlreadyDecided(
            "You have an address for this calendar.",
            remedy="Make a new one if it is lost; the old one then ends.",
        )
    return _create(user, kitchen, kind, canner)


@transaction.atomic
def rotate_feed(*, feed: Feed, actor: User, now: datetime | None = None) -> NewFeed:
    """Put a new address in the place of one that was lost or seen by others. The old one ends at once."""
    revoke_feed(feed=feed, actor=actor, now=now)
    check_may(feed.user, feed.kitchen, Deed.SEE)
    return _create(feed.user, feed.kitchen, FeedKind(feed.kind), feed.canner)


@transaction.atomic
def new_address(*, user: User, kitchen: Kitchen, kind: FeedKind, canner: Canner | None = None) -> NewFeed:
    """Make an address for a calendar; one that stands already ends. Refused like ``create_feed``."""
    standing = feeds_of(user, kitchen).filter(kind=kind, canner=canner).first()
    if standing is not None:
        return rotate_feed(feed=standing, actor=user)
    return create_feed(user=user, kitchen=kitchen, kind=kind, canner=canner)


@transaction.atomic
def revoke_feed(*, feed: Feed, actor: User, now: datetime | None = None) -> None:
    """End an address at once. A person may end their own, a lead anybody's."""
    if actor.pk != feed.user_id:
        check_may(actor, feed.kitchen, Deed.CHANGE_MEMBERS)
    at = now or timezone.now()
    if not Feed.objects.filter(pk=feed.pk, revoked_at__isnull=True).update(revoked_at=at):
        raise AlreadyDecided("This address has ended already.", remedy="Make a new one.")
    record(actor=actor, kitchen=feed.kitchen, action="revoke_feed", subject=feed, after={"revoked_at": at})


def note_fetch(*, feed: Feed, now: datetime) -> None:
    """Note that a feed is in use, at most once an hour: polling must not keep the database busy."""
    long_ago = Q(last_fetched_at__isnull=True) | Q(last_fetched_at__lte=now - _FETCH_NOTED_EVERY)
    Feed.objects.filter(long_ago, pk=feed.pk).update(last_fetched_at=now)


def _check_canner(kind: FeedKind, canner: Canner | None, kitchen: Kitchen) -> None:
    if (kind == FeedKind.CANNER) != (canner is not None):
        raise BadSetting(
            "The calendar of a canner names its canner, and no other calendar does.",
            remedy="Choose one of the calendars.",
        )
    if canner is not None and canner.kitchen_id != kitchen.pk:
        raise BadSetting("The canner belongs to another kitchen.", remedy=f"Choose one of {kitchen}.")


def _create(user: User, kitchen: Kitchen, kind: FeedKind, canner: Canner | None) -> NewFeed:
    secret = token_urlsafe(_SECRET_BYTES)
    feed = Feed.objects.create(user=user, kitchen=kitchen, kind=kind, canner=canner, digest=digest_of(secret))
    told = {"kind": kind} if canner is None else {"kind": kind, "canner": str(canner)}
    record(actor=user, kitchen=kitchen, action="create_feed", subject=feed, after=told)
    return NewFeed(feed=feed, address=f"{settings.KITCHEN_URL}{reverse('calendars:feed', args=[secret])}")
