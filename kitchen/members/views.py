"""The page on which a person, signed in or not, chooses language and units; and signing out."""

from __future__ import annotations

from typing import Any  # The context is Django's.

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import LoginView, LogoutView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import get_language
from django.views.decorators.http import require_http_methods, require_POST

from kitchen.language.person import LANGUAGE_COOKIE, UNITS_COOKIE, units_in_use
from kitchen.members.actions import choose_writing
from kitchen.members.forms import AboutMeForm
from kitchen.members.links import kitchens_address
from kitchen.members.models import User
from kitchen.members.pages import page_before


class SignIn(LoginView):
    """Sign in with address and password; the page says where passkeys hold."""

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """With the address for which they do."""
        return super().get_context_data(**kwargs, kitchens_address=kitchens_address())


@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def about_me(request: HttpRequest) -> HttpResponse:
    """Choose language and units: for oneself when signed in, and for this browser's pages before signing in."""
    back = page_before(request)
    form = AboutMeForm(
        request.POST or None, initial={"language": get_language(), "units": units_in_use().value}
    )
    if request.method != "POST" or not form.is_valid():
        status = 422 if form.errors else 200
        return render(request, "members/about_me.html", {"form": form, "next": back}, status=status)
    chosen = form.cleaned_data
    if isinstance(request.user, User):
        choose_writing(user=request.user, language=chosen["language"], units=chosen["units"])
    response = redirect(back)
    for cookie, value in ((LANGUAGE_COOKIE, chosen["language"]), (UNITS_COOKIE, chosen["units"])):
        response.set_cookie(
            cookie,
            value,
            max_age=settings.LANGUAGE_COOKIE_AGE,
            secure=settings.LANGUAGE_COOKIE_SECURE,
            httponly=True,
            samesite="Lax",
        )
    return response


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """Sign out, and have the browser forget what it kept: kitchens share their tablets."""
    response = LogoutView.as_view()(request)
    response.headers["Clear-Site-Data"] = '"storage"'
    return response
