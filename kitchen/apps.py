"""The program's own entry in the settings: its shared templates and static files, and its task queue."""

from __future__ import annotations

from importlib import import_module

from django.apps import AppConfig

from kitchen.configuration.moments import read_moments_quickly
from kitchen.one_kitchen import watch_migrations


class KitchenConfig(AppConfig):
    """What belongs to no single app."""

    name = "kitchen"
    label = "kitchen"

    def ready(self) -> None:
        """Bind every shared task to the configured Celery app, and have the database hold kitchens apart."""
        import_module("kitchen.celery")
        watch_migrations()
        read_moments_quickly()
