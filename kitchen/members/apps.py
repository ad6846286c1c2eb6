"""The app's entry in the settings."""

from __future__ import annotations

from django.apps import AppConfig


class MembersConfig(AppConfig):
    """Kitchens, people, roles and training."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "kitchen.members"
    label = "members"
