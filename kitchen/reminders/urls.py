"""Addresses of a person's choices about e-mail."""

from __future__ import annotations

from django.urls import path

from kitchen.reminders import views

app_name = "reminders"
urlpatterns = [
    path("about-me/mail/", views.choose, name="choices"),
    path("u/<str:token>", views.unsubscribe, name="unsubscribe"),
]
