"""The app's entry in the settings."""

from __future__ import annotations

from importlib import import_module

from django.apps import AppConfig


class EntranceConfig(AppConfig):
    """Codes by e-mail and passkeys, with which people sign in."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "kitchen.entrance"
    label = "entrance"

    def ready(self) -> None:
        """Follow who leaves."""
        # Its models are there only now.
        import_module("kitchen.entrance.following").follow()
