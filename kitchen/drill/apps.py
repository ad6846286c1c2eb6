"""The app's entry in the settings."""

from __future__ import annotations

from django.apps import AppConfig


class DrillConfig(AppConfig):
    """The drills."""

    name = "kitchen.drill"
    label = "drill"
