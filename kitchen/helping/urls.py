"""Addresses of when and where members can help."""

from __future__ import annotations

from django.urls import path

from kitchen.helping import views

app_name = "helping"
_HELPING = "kitchens/<slug:kitchen>/helping/"
urlpatterns = [
    path(_HELPING, views.mine, name="mine"),
    path(f"{_HELPING}calendar/file/", views.upload, name="upload"),
    path(f"{_HELPING}calendar/address/", views.follow, name="follow"),
    path(f"{_HELPING}calendar/<uuid:calendar>/again/", views.again, name="again"),
    path(f"{_HELPING}calendar/<uuid:calendar>/forget/", views.forget, name="forget"),
    path(f"{_HELPING}members/<uuid:member>/", views.of_member, name="member"),
    path(f"{_HELPING}members/<uuid:member>/wishes/", views.wishes, name="wishes"),
]
