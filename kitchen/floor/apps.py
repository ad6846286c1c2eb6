"""The app's entry in the settings."""

from __future__ import annotations

from importlib import import_module

from django.apps import AppConfig


class FloorConfig(AppConfig):
    """The run sheet and the process record."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "kitchen.floor"
    label = "floor"

    def ready(self) -> None:
        """Follow the gauge checks."""
        # Its models are there only now.
        import_module("kitchen.floor.following").follow()
