"""The page of tokens, and the guide for whoever writes a program."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from uuid import UUID

import yaml
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.cache import patch_cache_control
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from kitchen.api.actions import make_token, revoke_token
from kitchen.api.forms import TokenForm
from kitchen.api.models import Scope, Token
from kitchen.api.queries import tokens_of
from kitchen.errors import KitchenError
from kitchen.members.pages import kitchen_named, person

_HERE = Path(__file__).resolve().parent
SCHEMA, GUIDE = _HERE / "openapi.yaml", _HERE / "guide.md"
_FRESH_SECONDS = 3600


@require_http_methods(["GET", "HEAD", "POST"])
def tokens(request: HttpRequest, kitchen: str) -> HttpResponse:
    """My tokens; a press makes one, which is shown this once."""
    here, me = kitchen_named(request, kitchen), person(request)
    form = TokenForm(request.POST or None)
    context = {"kitchen": here, "form": form, "tokens": tokens_of(me, here, timezone.now())}
    if request.method != "POST" or not form.is_valid():
        return render(request, "api/tokens.html", context, status=422 if form.errors else 200)
    scopes = [Scope(one) for one in form.cleaned_data["scopes"]]
    made = make_token(user=me, kitchen=here, name=form.cleaned_data["name"], scopes=scopes)
    return render(request, "api/made.html", {"kitchen": here, "made": made})


@require_POST
def end_token(request: HttpRequest, kitchen: str, token: UUID) -> HttpResponse:
    """End one of my tokens."""
    here, me = kitchen_named(request, kitchen), person(request)
    try:
        revoke_token(token=get_object_or_404(Token, kitchen=here, user=me, uuid=token), actor=me)
    except KitchenError as refusal:
        messages.error(request, str(refusal))
    else:
        messages.success(request, "That token no longer opens anything.")
    return redirect("api:tokens", here.slug)


@login_not_required
@require_safe
def schema(request: HttpRequest) -> HttpResponse:
    """The schema as it is kept, which a test holds to be what the views are."""
    return _open(SCHEMA.read_bytes(), "application/yaml")


@login_not_required
@require_safe
def guide(request: HttpRequest) -> HttpResponse:
    """How to begin, and every operation in a line."""
    return _open(guide_text().encode(), "text/plain; charset=utf-8")


@cache
def guide_text() -> str:
    """The guide, with the operations of the schema."""
    paths = yaml.load(SCHEMA.read_text(), Loader=yaml.CSafeLoader)["paths"]
    lines = [
        f"    {method.upper():6} {path}\n           {told['description'].splitlines()[0]}"
        for path, methods in paths.items()
        for method, told in methods.items()
    ]
    return GUIDE.read_text() + "\n".join(lines) + "\n"


def _open(content: bytes, kind: str) -> HttpResponse:
    response = HttpResponse(content, content_type=kind)
    patch_cache_control(response, public=True, max_age=_FRESH_SECONDS)
    return response
