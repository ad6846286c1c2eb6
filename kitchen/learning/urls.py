"""Addresses of measured times."""

from __future__ import annotations

from django.urls import path

from kitchen.learning import views

app_name = "learning"
_TIMES = "kitchens/<slug:kitchen>/measured-times/"
urlpatterns = [
    path(_TIMES, views.times, name="times"),
    path(f"{_TIMES}records.csv", views.records, name="records"),
    path(f"{_TIMES}use/", views.use, name="use"),
    path(f"{_TIMES}work/", views.work, name="work"),
    path(f"{_TIMES}<int:time>/withdraw/", views.withdraw, name="withdraw"),
]
