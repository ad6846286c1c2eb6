"""Addresses of the booking pages."""

from __future__ import annotations

from django.urls import path

from kitchen.booking import views

app_name = "booking"
_HERE = "kitchens/<slug:kitchen>/booking/"
urlpatterns = [
    path(_HERE, views.page, name="page"),
    path(f"{_HERE}slots/<uuid:slot>/change/", views.change, name="change"),
    path(f"{_HERE}slots/<uuid:slot>/cancel/", views.cancel, name="cancel"),
    path(f"{_HERE}waiting/<uuid:waiting>/stop/", views.stop, name="stop"),
    path(f"{_HERE}held/<uuid:hold>/", views.held, name="held"),
    path(f"{_HERE}held/<uuid:hold>/let-go/", views.release, name="let-go"),
]
