"""The app's entry in the settings."""

from __future__ import annotations

from django.apps import AppConfig


class CalendarsConfig(AppConfig):
    """Calendar feeds."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "kitchen.calendars"
    label = "calendars"
