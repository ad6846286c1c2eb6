"""The app's entry in the settings."""

from __future__ import annotations

from importlib import import_module

from django.apps import AppConfig


class RotaConfig(AppConfig):
    """Shifts, sign-ups and swaps."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "kitchen.rota"
    label = "rota"

    def ready(self) -> None:
        """Follow what changes below the rota."""
        # Its models are there only now.
        import_module("kitchen.rota.following").follow()
