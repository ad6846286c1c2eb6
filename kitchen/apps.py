"""The program's own entry in the settings: its shared templates and static files, and its task queue."""

from __future__ import annotations

from importlib import import_module

from django.apps import AppConfig


class KitchenConfig(AppConfig):
    """What belongs to no single app."""

    name = "kitchen"
    label = "kitchen"

    def ready(self) -> None:
        """Bind every shared task to the configured Celery app, whichever way the program was started."""
        import_module("kitchen.celery")
