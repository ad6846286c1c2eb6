"""The app's entry in the settings."""

from __future__ import annotations

from django.apps import AppConfig


class HooksConfig(AppConfig):
    """Programs that are told when jars are due."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "kitchen.hooks"
    label = "hooks"
