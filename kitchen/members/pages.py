"""Who is asking, and in which kitchen: what every page settles first."""

from __future__ import annotations

from datetime import date, datetime, time

from django.http import Http404, HttpRequest
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme

from kitchen.members.models import Kitchen, User
from kitchen.members.queries import membership_of
from kitchen.members.rules import Deed, check_may

_ONLY_READ = ("GET", "HEAD")


def person(request: HttpRequest) -> User:
    """The signed-in person; the page is not found for anybody else."""
    if not isinstance(request.user, User):
        raise Http404
    return request.user


def kitchen_named(request: HttpRequest, slug: str) -> Kitchen:
    """The kitchen in the address, which is not found unless the person belongs to it."""
    kitchen, me = Kitchen.objects.filter(slug=slug).first(), person(request)
    membership = None if kitchen is None else membership_of(me, kitchen)
    if kitchen is None or membership is None:
        raise Http404
    if request.method in _ONLY_READ:
        # Every deed of a page is asked for by role. Where something is written, each is looked up as it stands then.
        me.known_memberships[kitchen.pk] = membership
    return kitchen


def kitchen_for(request: HttpRequest, slug: str, deed: Deed) -> Kitchen:
    """The same, for whoever may do the deed there; ``NotAllowed`` for others of its people."""
    kitchen = kitchen_named(request, slug)
    check_may(person(request), kitchen, deed)
    return kitchen


def page_before(request: HttpRequest) -> str:
    """The page from which they came, when it is one of this kitchen's; the front page otherwise."""
    asked = request.POST.get("next") or request.GET.get("next") or "/"
    safe = url_has_allowed_host_and_scheme(asked, {request.get_host()}, require_https=request.is_secure())
    return asked if safe and asked.isprintable() else "/"  # One with a line break or NUL leads nowhere.


def today_in(kitchen: Kitchen) -> date:
    """Today's date on the kitchen's wall."""
    return timezone.now().astimezone(kitchen.zone).date()


def wall_time(kitchen: Kitchen, day: date, at: time) -> datetime:
    """A time on the kitchen's wall, on that day."""
    return datetime.combine(day, at, tzinfo=kitchen.zone)


def shown_time(kitchen: Kitchen, moment: datetime | None) -> str:
    """A moment as the kitchen's clock shows it, with its day; nothing for None."""
    return "" if moment is None else f"{moment.astimezone(kitchen.zone):%a %-d %b %H:%M}"
