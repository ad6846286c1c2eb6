"""The app's entry in the settings."""

from __future__ import annotations

from django.apps import AppConfig


class DemoConfig(AppConfig):
    """An invented kitchen with a harvest day to look at."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "kitchen.demo"
    label = "demo"
