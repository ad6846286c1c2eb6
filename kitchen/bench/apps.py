"""The app's entry in the settings."""

from __future__ import annotations

from django.apps import AppConfig


class BenchConfig(AppConfig):
    """The pages' bench."""

    name = "kitchen.bench"
    label = "bench"
