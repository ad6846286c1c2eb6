"""The app's entry in the settings."""

from __future__ import annotations

from django.apps import AppConfig


class HelpingConfig(AppConfig):
    """Who can help, when and where."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "kitchen.helping"
    label = "helping"
