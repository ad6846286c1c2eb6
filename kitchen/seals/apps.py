"""The app's entry in the settings."""

from __future__ import annotations

from django.apps import AppConfig


class SealsConfig(AppConfig):
    """Seal checks, reprocess offers, labels and the shelf."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "kitchen.seals"
    label = "seals"
