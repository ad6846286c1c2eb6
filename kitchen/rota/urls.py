"""Addresses of the rota."""

from __future__ import annotations

from django.urls import path

from kitchen.rota import swapping, views

app_name = "rota"
_DAY = "kitchens/<slug:kitchen>/days/<uuid:day>/rota/"
_SHIFT = "kitchens/<slug:kitchen>/shifts/<uuid:shift>/"
_OFFER = "kitchens/<slug:kitchen>/offers/<uuid:offer>/"
urlpatterns = [
    path(_DAY, views.mine, name="mine"),
    path(f"{_DAY}everybody/", views.everybody, name="everybody"),
    path(f"{_DAY}want/", views.want, name="want"),
    path(_SHIFT, swapping.shift, name="shift"),
    path(f"{_SHIFT}take/", views.take_open, name="take"),
    path(f"{_SHIFT}back/", views.back, name="back"),
    path(f"{_SHIFT}hand-over/", views.to_another, name="hand-over"),
    path(f"{_SHIFT}no-more/", views.no_more, name="no-more"),
    path(f"{_SHIFT}offer/", swapping.offer, name="offer"),
    path(f"{_OFFER}withdraw/", swapping.withdraw, name="withdraw"),
    path(f"{_OFFER}accept/", swapping.accept, name="accept"),
]
