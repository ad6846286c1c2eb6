"""Addresses of the seal check."""

from __future__ import annotations

from django.urls import path

from kitchen.seals import views

app_name = "seals"
urlpatterns = [
    path("s/<str:token>", views.by_link, name="link"),
    path("kitchens/<slug:kitchen>/jars/<uuid:portion>/", views.by_member, name="check"),
]
