"""The app's entry in the settings."""

from __future__ import annotations

from django.apps import AppConfig


class BatchesConfig(AppConfig):
    """Intake, batches and slots."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "kitchen.batches"
    label = "batches"
