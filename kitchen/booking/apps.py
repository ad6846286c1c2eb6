"""The app's entry in the settings."""

from __future__ import annotations

from django.apps import AppConfig


class BookingConfig(AppConfig):
    """Canner time between harvest days."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "kitchen.booking"
    label = "booking"
