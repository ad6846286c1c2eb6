"""Signing in and out, language and units."""

from __future__ import annotations

from django.contrib.auth.views import LoginView, LogoutView
from django.urls import path

from kitchen.members.views import about_me

app_name = "members"
urlpatterns = [
    path(
        "sign-in/",
        LoginView.as_view(template_name="members/sign_in.html", redirect_authenticated_user=True),
        name="sign-in",
    ),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("about-me/", about_me, name="about-me"),
]
