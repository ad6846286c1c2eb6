"""Addresses of run sheets."""

from __future__ import annotations

from django.urls import path

from kitchen.floor import views

app_name = "floor"
urlpatterns = [
    path("kitchens/<slug:kitchen>/days/<uuid:day>/canners/<uuid:canner>/", views.run_sheet, name="run-sheet"),
    path("kitchens/<slug:kitchen>/loads/<uuid:load>/step/", views.step, name="step"),
]
