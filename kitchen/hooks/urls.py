"""Addresses of the page of programs that are told."""

from __future__ import annotations

from django.urls import path

from kitchen.hooks import views

app_name = "hooks"
_HERE = "kitchens/<slug:kitchen>/programs/"
urlpatterns = [
    path(_HERE, views.hooks, name="hooks"),
    path(f"{_HERE}<uuid:hook>/secret/", views.secret, name="secret"),
    path(f"{_HERE}<uuid:hook>/end/", views.end, name="end"),
    path(f"{_HERE}<uuid:hook>/trial/", views.trial, name="trial"),
    path(f"{_HERE}messages/<uuid:telling>/again/", views.again, name="again"),
]
