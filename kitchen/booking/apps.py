"""The app's entry in the settings."""

from __future__ import annotations

from importlib import import_module

from django.apps import AppConfig


class BookingConfig(AppConfig):
    """Canner time between harvest days."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "kitchen.booking"
    label = "booking"

    def ready(self) -> None:
        """Follow what changes below bookings."""
        # Its models are there only now.
        import_module("kitchen.booking.following").follow()
