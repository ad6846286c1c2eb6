"""Addresses of the season."""

from __future__ import annotations

from django.urls import path

from kitchen.season import views

app_name = "season"
urlpatterns = [
    path("kitchens/<slug:kitchen>/season/", views.season, name="newest"),
    path("kitchens/<slug:kitchen>/season/<int:year>/", views.season, name="year"),
]
