"""The pages of passkeys, and the questions that their script asks for.

A challenge stands in the session for some minutes, for one purpose, and is taken out before anything is looked at: an
answer that is sent again finds none.
"""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from kitchen.entrance.forms import PasskeyForm
from kitchen.entrance.models import Passkey
from kitchen.entrance.passkeys import add_passkey, check_may_add, remove_passkey, sign_in_by_passkey
from kitchen.entrance.protocol import Question, ask_for_any, ask_for_new
from kitchen.entrance.views import BACKEND
from kitchen.errors import KitchenError, NotAllowed
from kitchen.language.said import said
from kitchen.members.links import kitchens_address
from kitchen.members.models import User
from kitchen.members.pages import page_before, person

HOLDS_SECONDS = 300
"""The browser itself waits for one minute; a password manager may want to be opened first."""
_KEPT = "passkey_question"


@login_not_required
@never_cache
@require_POST
def begin(request: HttpRequest) -> HttpResponse:
    """The question for whichever passkey there is."""
    return _asked(request, ask_for_any(), "sign-in")


@login_not_required
@never_cache
@require_POST
def sign_in(request: HttpRequest) -> HttpResponse:
    """Sign in with the browser's answer."""
    back = page_before(request)
    try:
        challenge, _name = _take(request, "sign-in")
        user = sign_in_by_passkey(
            answer=request.POST.get("answer", ""), challenge=challenge, now=timezone.now()
        )
    except KitchenError as refusal:
        context = {"refusal": refusal, "next": back, "kitchens_address": kitchens_address()}
        return render(request, "entrance/passkey_refused.html", context, status=403)
    login(request, user, backend=BACKEND)
    return redirect(back)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def passkeys(request: HttpRequest) -> HttpResponse:
    """One's own passkeys; what is sent is the browser's answer for a new one."""
    me = person(request)
    if request.method != "POST":
        return _shown(request, me)
    try:
        challenge, name = _take(request, "add")
        added = add_passkey(
            user=me,
            name=name,
            answer=request.POST.get("answer", ""),
            challenge=challenge,
            now=timezone.now(),
        )
    except KitchenError as refusal:
        return _shown(request, me, refusal=refusal)
    messages.success(request, f"{added.name} lets you in from now on.")
    return redirect("entrance:passkeys")


@never_cache
@sensitive_post_parameters("password")
@require_POST
def begin_adding(request: HttpRequest) -> HttpResponse:
    """The question for a new passkey, for whoever knows the password."""
    me = person(request)
    form = PasskeyForm(request.POST)
    if not form.is_valid():
        told = [
            f"{said(form[name].label)}: {' '.join(map(str, errors))}" for name, errors in form.errors.items()
        ]
        return _refused(" ".join(told))
    name = form.cleaned_data["name"]
    try:
        check_may_add(user=me, name=name, password=form.cleaned_data["password"])
    except KitchenError as refusal:
        return _refused(f"{said(refusal.message)} {said(refusal.remedy)}")
    return _asked(request, ask_for_new(me), "add", name)


@require_POST
def remove(request: HttpRequest, passkey: UUID) -> HttpResponse:
    """One of one's own passkeys opens nothing any more."""
    me = person(request)
    found = get_object_or_404(Passkey, user=me, uuid=passkey)
    remove_passkey(passkey=found, actor=me)
    messages.success(
        request, f"{found.name} opens nothing here any more. You can remove it from the device as well."
    )
    return redirect("entrance:passkeys")


def _asked(request: HttpRequest, question: Question, purpose: str, name: str = "") -> HttpResponse:
    until = timezone.now().timestamp() + HOLDS_SECONDS
    request.session[_KEPT] = [purpose, question.challenge, until, name]
    return HttpResponse(question.options, content_type="application/json")


def _take(request: HttpRequest, purpose: str) -> tuple[str, str]:
    """The challenge that this browser was given for this, and the name that goes with it. Gone from now on."""
    kept_for, challenge, until, name = "", "", 0.0, ""
    if _KEPT in request.session:
        kept_for, challenge, until, name = request.session.pop(_KEPT)
        request.session.save()
    if kept_for != purpose or timezone.now().timestamp() >= until:
        raise NotAllowed("This took too long, or was sent twice.", remedy="Begin again on this page.")
    return challenge, name


def _refused(words: str) -> HttpResponse:
    return JsonResponse({"refusal": words}, status=422)


def _shown(request: HttpRequest, me: User, *, refusal: KitchenError | None = None) -> HttpResponse:
    context = {
        "passkeys": Passkey.objects.filter(user=me),
        "form": PasskeyForm(),
        "refusal": refusal,
        "kitchens_address": kitchens_address(),
    }
    return render(request, "entrance/passkeys.html", context, status=422 if refusal else 200)
