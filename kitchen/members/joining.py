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


@login_not_required
@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def join(request: HttpRequest, user: UUID, token: str) -> HttpResponse:
    """Set the first password, by the address in an invitation, and be signed in. Opening it changes nothing."""
    found = get_object_or_404(User, uuid=user, is_active=True)
    form = NewPasswordForm(found, request.POST or None)
    context: dict[str, object] = {"form": form, "found": found}
    try:
        check_invitation(user=found, token=token)
        if request.method == "POST" and form.is_valid():
            accept_invitation(user=found, token=token, password=form.cleaned_data["new_password1"])
            login(request, found, backend=_BACKEND)
            return redirect("home:front")
    except KitchenError as refusal:
        context["refusal"] = refusal
    return render(
        request, "members/join.html", context, status=422 if "refusal" in context or form.errors else 200
    )
