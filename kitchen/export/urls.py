"""Addresses of what can be taken out."""

from __future__ import annotations

from django.urls import path

from kitchen.export import views

app_name = "export"
urlpatterns = [
    path("about-me/data/", views.mine, name="mine"),
    path("kitchens/<slug:kitchen>/take-out/", views.everything, name="kitchen"),
]
