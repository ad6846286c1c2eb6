"""Addresses of booking another process: beside those of the seal check, signed in or by its link."""

from __future__ import annotations

from django.urls import path

from kitchen.reprocess import views

app_name = "reprocess"
urlpatterns = [
    path("s/<str:token>/again", views.by_link, name="by-link"),
    path("kitchens/<slug:kitchen>/jars/<uuid:portion>/again/", views.by_member, name="by-member"),
]
