"""The app's entry in the settings."""

from __future__ import annotations

from django.apps import AppConfig


class ReprocessConfig(AppConfig):
    """Booking another process for jars that did not seal."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "kitchen.reprocess"
    label = "reprocess"
