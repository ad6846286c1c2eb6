"""The app's entry in the settings."""

from __future__ import annotations

from django.apps import AppConfig


class RotaConfig(AppConfig):
    """Shifts, sign-ups and swaps."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "kitchen.rota"
    label = "rota"
