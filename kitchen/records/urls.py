"""Addresses of process records."""

from __future__ import annotations

from django.urls import path

from kitchen.records import views

app_name = "records"
_HERE = "kitchens/<slug:kitchen>/"
_LOAD = f"{_HERE}loads/<uuid:load>/record"
_DAY = f"{_HERE}days/<uuid:day>/records"
urlpatterns = [
    path(f"{_LOAD}/", views.of_load, name="load"),
    path(f"{_LOAD}/sign/", views.sign, name="sign"),
    path(f"{_LOAD}/review/", views.review, name="review"),
    path(f"{_LOAD}.csv", views.load_csv, name="load-csv"),
    path(f"{_LOAD}.pdf", views.load_pdf, name="load-pdf"),
    path(f"{_DAY}/", views.of_day, name="day"),
    path(f"{_DAY}.csv", views.day_csv, name="day-csv"),
    path(f"{_DAY}.pdf", views.day_pdf, name="day-pdf"),
    path(f"{_HERE}records/", views.to_review, name="to-review"),
]
