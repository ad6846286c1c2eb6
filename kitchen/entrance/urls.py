"""Addresses for signing in without a password."""

from __future__ import annotations

from django.urls import path

from kitchen.entrance import passkey_views, views

app_name = "entrance"
urlpatterns = [
    path("sign-in/code/", views.ask, name="ask-code"),
    path("sign-in/code/enter/", views.enter, name="enter-code"),
    path("sign-in/passkey/begin/", passkey_views.begin, name="begin-passkey"),
    path("sign-in/passkey/", passkey_views.sign_in, name="sign-in-by-passkey"),
    path("passkeys/", passkey_views.passkeys, name="passkeys"),
    path("passkeys/begin/", passkey_views.begin_adding, name="begin-adding"),
    path("passkeys/<uuid:passkey>/remove/", passkey_views.remove, name="remove-passkey"),
]
