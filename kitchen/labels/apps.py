"""The app's entry in the settings."""

from __future__ import annotations

from django.apps import AppConfig


class LabelsConfig(AppConfig):
    """Jar labels, the shelf and lots."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "kitchen.labels"
    label = "labels"
