"""The app's entry in the settings."""

from __future__ import annotations

from django.apps import AppConfig


class ExportConfig(AppConfig):
    """Files of everything a kitchen has, and of what is known of a person."""

    name = "kitchen.export"
    label = "export"
