"""The doors of calendars: a feed's secret address, and a harvest day to download."""

from __future__ import annotations

from hashlib import sha256
from uuid import UUID

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseNotFound
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.views.decorators.http import require_safe

from kitchen.calendars.actions import note_fetch
from kitchen.calendars.bridge import day_ics, feed_ics
from kitchen.calendars.queries import standing_feed
from kitchen.language.person import written_to
from kitchen.members.models import User
from kitchen.members.rules import Deed, can
from kitchen.planning.queries import harvest_days

_CALENDAR = "text/calendar; charset=utf-8"
_PRIVATE = {"X-Robots-Tag": "noindex", "Referrer-Policy": "no-referrer"}


@login_not_required
@require_safe
def feed(request: HttpRequest, secret: str) -> HttpResponse:
    """A feed, for as long as its person belongs to the kitchen. Every failure looks the same: not found.

    There is an ETag and no Last-Modified: the newest of the rows shown goes backwards when a row is dropped,
    and a client that compares dates would then never be told.
    """
    found = standing_feed(secret)
    if found is None or not can(found.user, found.kitchen, Deed.SEE):
        return HttpResponseNotFound("Not found.\n", content_type="text/plain", headers=_PRIVATE)
    now = timezone.now()
    note_fetch(feed=found, now=now)
    with written_to(found.user):  # Whichever program fetches it.
        calendar = feed_ics(found, now)
    etag = f'"{sha256(calendar).hexdigest()}"'
    response: HttpResponse = HttpResponse(calendar, content_type=_CALENDAR, headers={"ETag": etag})
    response.headers["Cache-Control"] = "private, no-cache"
    answer = get_conditional_response(request, etag=etag, response=response) or response
    for name, value in _PRIVATE.items():
        answer.headers[name] = value
    return answer


@require_safe
def day_file(request: HttpRequest, day: UUID) -> HttpResponse:
    """A harvest day's published plan as a file, for the kitchen's own people."""
    found = get_object_or_404(harvest_days().select_related("kitchen"), uuid=day)
    if not isinstance(request.user, User) or not can(request.user, found.kitchen, Deed.SEE):
        raise Http404
    name = f"{found.kitchen.slug}-{found.date}.ics"
    return HttpResponse(
        day_ics(found),
        content_type=_CALENDAR,
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
