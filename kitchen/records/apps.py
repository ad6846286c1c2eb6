"""The app's entry in the settings."""

from __future__ import annotations

from django.apps import AppConfig


class RecordsConfig(AppConfig):
    """Process records, signed and reviewed."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "kitchen.records"
    label = "records"
