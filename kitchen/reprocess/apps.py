"""The app's entry in the settings."""

from __future__ import annotations

from importlib import import_module

from django.apps import AppConfig


class ReprocessConfig(AppConfig):
    """Booking another process for jars that did not seal."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "kitchen.reprocess"
    label = "reprocess"

    def ready(self) -> None:
        """Follow the run sheet."""
        # Its models are there only now.
        import_module("kitchen.reprocess.following").follow()
