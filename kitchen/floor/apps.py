"""The app's entry in the settings."""

from __future__ import annotations

from django.apps import AppConfig


class FloorConfig(AppConfig):
    """The run sheet and the process record."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "kitchen.floor"
    label = "floor"
