"""The page on which a person chooses their e-mail, and the one that ends a kind of it from a message."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from kitchen.errors import BadSetting
from kitchen.language.person import written_to
from kitchen.members.pages import person
from kitchen.reminders.choosing import choose_mail, end_mail
from kitchen.reminders.forms import MailForm
from kitchen.reminders.links import read_unsubscribe_link
from kitchen.reminders.models import MailChoices
from kitchen.reminders.queries import choices_of
from kitchen.reminders.timing import OPTIONAL


@require_http_methods(["GET", "HEAD", "POST"])
def choose(request: HttpRequest) -> HttpResponse:
    """Quiet hours, a digest, and what one wants no e-mail about."""
    me = person(request)
    kept = choices_of(me) or MailChoices()
    form = MailForm(
        request.POST if request.method == "POST" else None,
        initial={
            "quiet_from": kept.quiet_from,
            "quiet_until": kept.quiet_until,
            "once_a_day": kept.once_a_day,
            "wanted": [kind.value for kind in OPTIONAL if kind not in kept.off],
        },
    )
    if form.is_bound and form.is_valid():
        said = form.cleaned_data
        wanted = said.pop("wanted")
        off = [kind.value for kind in OPTIONAL if kind.value not in wanted]
        try:
            choose_mail(user=me, off=off, **said)
        except BadSetting as error:
            form.add_error("quiet_until", str(error))
        else:
            messages.success(request, gettext("Saved."))
            return redirect("reminders:choices")
    return render(request, "reminders/choices.html", {"form": form}, status=422 if form.errors else 200)


@csrf_exempt  # RFC 8058: a mail program posts here, with neither a page nor a cookie. The signature is the key.
@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def unsubscribe(request: HttpRequest, token: str) -> HttpResponse:
    """End one kind of message. Opening the page changes nothing: mail scanners follow links."""
    user, kind = read_unsubscribe_link(token)
    if request.method == "POST":
        end_mail(user=user, kind=kind)
    with written_to(user):
        shown = {"kind": kind, "done": request.method == "POST"}
        response = render(request, "reminders/unsubscribe.html", shown)
    response.headers["X-Robots-Tag"] = "noindex"  # The address is a key.
    return response
