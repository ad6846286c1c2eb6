"""Addresses of harvest days and their plans."""

from __future__ import annotations

from django.urls import path

from kitchen.harvest import asking, coming, keeping, rest, views

app_name = "harvest"
_DAY = "kitchens/<slug:kitchen>/days/<uuid:day>/"
urlpatterns = [
    path("kitchens/<slug:kitchen>/days/open/", views.open_day, name="open"),
    path(_DAY, views.day, name="day"),
    path(f"{_DAY}hours/", views.change, name="hours"),
    path(f"{_DAY}close/", views.close, name="close"),
    path(f"{_DAY}help/", coming.help_out, name="help-out"),
    path(f"{_DAY}help/<int:hours>/take-back/", coming.take_back, name="take-back"),
    path(f"{_DAY}plan/", views.plan, name="plan"),
    path(f"{_DAY}rest/", rest.rest, name="rest"),
    path(f"{_DAY}rota/again/", keeping.draw, name="draw"),
    path(f"{_DAY}rota/again/<uuid:job>/", keeping.drawn, name="drawn"),
    path(f"{_DAY}plans/<uuid:job>/", views.progress, name="progress"),
    path(f"{_DAY}plans/<uuid:job>/chart.svg", views.chart, name="chart"),
    path(f"{_DAY}plans/<uuid:job>/stop/", views.stop, name="stop"),
    path(f"{_DAY}plans/<uuid:job>/publish/", views.publish, name="publish"),
    path(f"{_DAY}plans/<uuid:job>/what-if/", asking.watch, name="what-if"),
    path(f"{_DAY}plans/<uuid:job>/what-if/ask/", asking.ask, name="ask"),
    path(f"{_DAY}plans/<uuid:job>/what-if/stop/", asking.stop_asking, name="stop-asking"),
    path(f"{_DAY}plans/<uuid:job>/what-if/make/", asking.make, name="make"),
]
