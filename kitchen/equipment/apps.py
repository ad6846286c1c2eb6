"""The app's entry in the settings."""

from __future__ import annotations

from django.apps import AppConfig


class EquipmentConfig(AppConfig):
    """Canners, burners, kettles and gauge checks."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "kitchen.equipment"
    label = "equipment"
