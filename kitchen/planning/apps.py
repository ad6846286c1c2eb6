"""The app's entry in the settings."""

from __future__ import annotations

from django.apps import AppConfig


class PlanningConfig(AppConfig):
    """Harvest days, loads and the published plan."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "kitchen.planning"
    label = "planning"
