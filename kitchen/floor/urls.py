"""Addresses of run sheets and of the process record."""

from __future__ import annotations

from django.urls import path

from kitchen.floor import views

app_name = "floor"
_LOAD = "kitchens/<slug:kitchen>/loads/<uuid:load>/"
urlpatterns = [
    path("kitchens/<slug:kitchen>/days/<uuid:day>/canners/<uuid:canner>/", views.run_sheet, name="run-sheet"),
    path(f"{_LOAD}step/", views.step, name="step"),
    path(f"{_LOAD}jars-out/", views.out, name="jars-out"),
    path(f"{_LOAD}lines/<int:line>/withdraw/", views.withdraw, name="withdraw"),
    path(f"{_LOAD}hold/", views.hold, name="hold"),
]
