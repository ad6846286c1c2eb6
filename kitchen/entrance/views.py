"""Signing in by a code from an e-mail."""

from __future__ import annotations

from uuid import UUID

from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.translation import get_language
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from kitchen.entrance.codes import ask_for_code, sign_in_by_code
from kitchen.entrance.forms import AskForm, CodeForm
from kitchen.entrance.rules import HOLDS
from kitchen.errors import KitchenError
from kitchen.language.person import language_named
from kitchen.members.models import Language
from kitchen.members.pages import page_before

BACKEND = "django.contrib.auth.backends.ModelBackend"
_ASKED = "code_asked_for"


@login_not_required
@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def ask(request: HttpRequest) -> HttpResponse:
    """Ask for a code. What is answered does not tell whether the address is known."""
    back = page_before(request)
    if request.user.is_authenticated:
        return redirect(back)
    form = AskForm(request.POST or None)
    if request.method != "POST" or not form.is_valid():
        status = 422 if form.errors else 200
        return render(request, "entrance/ask.html", {"form": form, "next": back}, status=status)
    asked = ask_for_code(
        email=form.cleaned_data["username"],
        language=language_named(get_language()) or Language.ENGLISH.value,
        now=timezone.now(),
    )
    request.session[_ASKED] = str(asked)
    response = redirect("entrance:enter-code")
    response["Location"] += f"?{urlencode({'next': back})}"
    return response


@login_not_required
@never_cache
@sensitive_post_parameters()
@require_http_methods(["GET", "HEAD", "POST"])
def enter(request: HttpRequest) -> HttpResponse:
    """Type the code, and be signed in."""
    back = page_before(request)
    if request.user.is_authenticated:
        return redirect(back)
    asked = request.session.get(_ASKED)
    if asked is None:
        return redirect("entrance:ask-code")
    form = CodeForm(request.POST or None)
    context: dict[str, object] = {"form": form, "next": back, "minutes": HOLDS.seconds // 60}
    if request.method == "POST" and form.is_valid():
        try:
            user = sign_in_by_code(asked=UUID(asked), code=form.cleaned_data["code"], now=timezone.now())
        except KitchenError as refusal:
            context["refusal"] = refusal
        else:
            del request.session[_ASKED]
            login(request, user, backend=BACKEND)
            return redirect(back)
    status = 422 if "refusal" in context or form.errors else 200
    return render(request, "entrance/enter.html", context, status=status)
