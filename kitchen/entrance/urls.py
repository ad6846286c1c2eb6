"""Addresses for signing in without a password."""

from __future__ import annotations

from django.urls import path

from kitchen.entrance import views

app_name = "entrance"
urlpatterns = [
    path("sign-in/code/", views.ask, name="ask-code"),
    path("sign-in/code/enter/", views.enter, name="enter-code"),
]
