"""Addresses of a member's own pages."""

from __future__ import annotations

from django.urls import path

from kitchen.home import bringing, calendars, views

app_name = "home"
_HERE = "kitchens/<slug:kitchen>/"
urlpatterns = [
    path("", views.front, name="front"),
    path(_HERE, views.kitchen, name="kitchen"),
    path(f"{_HERE}days/<uuid:day>/bring/", views.intake, name="intake"),
    path(f"{_HERE}days/<uuid:day>/bring/table/", bringing.table, name="intake-table"),
    path(f"{_HERE}batches/<uuid:batch>/withdraw/", views.withdraw, name="withdraw"),
    path(f"{_HERE}notices/", views.notices, name="notices"),
    path(f"{_HERE}notices/<int:notice>/seen/", views.seen, name="seen"),
    path(f"{_HERE}calendars/", calendars.calendars, name="calendars"),
    path(f"{_HERE}calendar/<slug:kind>/", calendars.new_feed, name="new-feed"),
    path(f"{_HERE}calendar/canners/<uuid:canner>/", calendars.new_canner_feed, name="new-canner-feed"),
    path(f"{_HERE}calendar/<int:feed>/end/", calendars.end_feed, name="end-feed"),
]
