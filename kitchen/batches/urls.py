"""Addresses of the published lines that wait for a lead."""

from __future__ import annotations

from django.urls import path

from kitchen.batches import views

app_name = "batches"
_HERE = "kitchens/<slug:kitchen>/published-lines/"
urlpatterns = [
    path(_HERE, views.lines, name="lines"),
    path(f"{_HERE}withdraw/<int:confirmed>/", views.withdraw, name="withdraw-line"),
]
