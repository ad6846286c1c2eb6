"""Addresses of the API, its schema and its guide, and of the page of tokens."""

from __future__ import annotations

from django.urls import include, path, re_path

from kitchen.api import views
from kitchen.api.base.missing import Missing

app_name = "api"
urlpatterns = [
    path("api/", views.guide, name="guide"),
    path("api/v1/schema", views.schema, name="schema"),
    path("api/v1/", include("kitchen.api.v1.urls")),
    re_path(r"^api/v1/[\s\S]*$", Missing.as_view(), name="missing"),  # Line breaks too.
    path("kitchens/<slug:kitchen>/tokens/", views.tokens, name="tokens"),
    path("kitchens/<slug:kitchen>/tokens/<uuid:token>/end/", views.end_token, name="end-token"),
]
