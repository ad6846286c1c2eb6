"""The app's entry in the settings."""

from __future__ import annotations

from django.apps import AppConfig


class RemindersConfig(AppConfig):
    """The queue of due reminders, and the sweep that sends them."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "kitchen.reminders"
    label = "reminders"
