"""The app's entry in the settings."""

from __future__ import annotations

from django.apps import AppConfig


class LearningConfig(AppConfig):
    """Measured times, and what the planner uses of them."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "kitchen.learning"
    label = "learning"
