"""The addresses of calendars. The one of a feed must never change: it stands in people's telephones."""

from __future__ import annotations

from django.urls import path

from kitchen.calendars.views import day_file, feed

app_name = "calendars"
urlpatterns = [
    path("feeds/<str:secret>.ics", feed, name="feed"),
    path("days/<uuid:day>.ics", day_file, name="day"),
]
