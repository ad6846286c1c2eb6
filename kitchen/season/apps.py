"""The app's entry in the settings."""

from __future__ import annotations

from django.apps import AppConfig


class SeasonConfig(AppConfig):
    """The view over a season."""

    name = "kitchen.season"
    label = "season"
