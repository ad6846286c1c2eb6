"""Accepting an invitation: the first password."""

from __future__ import annotations

from uuid import UUID

from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from kitchen.errors import KitchenError
from kitchen.members.forms import NewPasswordForm
from kitchen.members.models import User
from kitchen.members.signing_in import accept_invitation, check_invitation

_BACKEND = "django.contrib.auth.backends.ModelBackend"
_OPENED, _IN_SESSION = "invitation_opened", "set"


@login_not_required
@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def join(request: HttpRequest, user: UUID, token: str) -> HttpResponse:
    """Set the first password, by the address in an invitation, and be signed in. Opening it uses nothing up.

    The word of an invitation that holds goes into the session as soon as it is opened, so that it stands in no address
    that the browser keeps, shows or tells on.
    """
    found = get_object_or_404(User, uuid=user, is_active=True)
    word = request.session.get(_OPENED, "") if token == _IN_SESSION else token
    form = NewPasswordForm(found, request.POST or None)
    context: dict[str, object] = {"form": form, "found": found}
    try:
        check_invitation(user=found, token=word)
        if request.method != "POST" and token != _IN_SESSION:
            request.session[_OPENED] = token
            return redirect("members:join", user=user, token=_IN_SESSION)
        if request.method == "POST" and form.is_valid():
            accept_invitation(user=found, token=word, password=form.cleaned_data["new_password1"])
            request.session.pop(_OPENED, None)
            login(request, found, backend=_BACKEND)
            return redirect("home:front")
    except KitchenError as refusal:
        context["refusal"] = refusal
    return render(
        request, "members/join.html", context, status=422 if "refusal" in context or form.errors else 200
    )
