"""Addresses of the equipment."""

from __future__ import annotations

from django.urls import path

from kitchen.equipment import views

app_name = "equipment"
_HERE = "kitchens/<slug:kitchen>/equipment/"
_CANNER = f"{_HERE}canners/<uuid:canner>/"
urlpatterns = [
    path(_HERE, views.everything, name="everything"),
    path(f"{_HERE}canners/new/", views.new_canner, name="new-canner"),
    path(_CANNER, views.one_canner, name="canner"),
    path(f"{_CANNER}gauge/", views.check_gauge, name="check-gauge"),
    path(f"{_CANNER}withdraw/", views.withdraw, name="withdraw"),
    path(f"{_CANNER}return/", views.give_back, name="return"),
    path(f"{_HERE}<str:what>/new/", views.new_thing, name="new"),
    path(f"{_HERE}<str:what>/<uuid:thing>/", views.one_thing, name="thing"),
]
