"""Addresses of labels, lots and the shelf."""

from __future__ import annotations

from django.urls import path

from kitchen.labels import views

app_name = "labels"
_HERE = "kitchens/<slug:kitchen>/"
urlpatterns = [
    path("lot/<str:code>", views.scanned, name="scanned"),
    path(f"{_HERE}jars/<uuid:portion>/labels/", views.of_jars, name="jars"),
    path(f"{_HERE}batches/<uuid:batch>/labels/", views.of_batch, name="batch"),
    path(f"{_HERE}days/<uuid:day>/labels/", views.of_day, name="day"),
    path(f"{_HERE}shelf/", views.my_shelf, name="shelf"),
    path(f"{_HERE}shelf/all/", views.whole_shelf, name="whole-shelf"),
    path(f"{_HERE}lots/", views.find_lot, name="find"),
    path(f"{_HERE}lots/<str:code>/", views.lot, name="lot"),
    path(f"{_HERE}lots/<str:code>/move/", views.move, name="move"),
    path(f"{_HERE}lots/<str:code>/again/", views.again, name="again"),
]
