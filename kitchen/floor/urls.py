"""Addresses of run sheets and of the process record."""

from __future__ import annotations

from django.urls import path

from kitchen.floor import views
from kitchen.floor.offline import offline

app_name = "floor"
_LOAD = "kitchens/<slug:kitchen>/loads/<uuid:load>/"
_CANNERS = "kitchens/<slug:kitchen>/days/<uuid:day>/canners/"
urlpatterns = [
    path("kitchens/offline.js", offline, name="offline"),
    path(_CANNERS, views.canners, name="canners"),
    path(f"{_CANNERS}<uuid:canner>/", views.run_sheet, name="run-sheet"),
    path(f"{_LOAD}step/", views.step, name="step"),
    path(f"{_LOAD}jars-out/", views.out, name="jars-out"),
    path(f"{_LOAD}hand-over/", views.watch, name="hand-over"),
    path(f"{_LOAD}lines/<int:line>/", views.line, name="line"),
    path(f"{_LOAD}lines/<int:line>/correct/", views.correct, name="correct"),
    path(f"{_LOAD}lines/<int:line>/withdraw/", views.withdraw, name="withdraw"),
    path(f"{_LOAD}hold/", views.hold, name="hold"),
]
