"""The app's entry in the settings."""

from __future__ import annotations

from django.apps import AppConfig


class ApiConfig(AppConfig):
    """The API, with the tokens that open it."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "kitchen.api"
    label = "api"
