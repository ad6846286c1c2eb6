"""The app's entry in the settings."""

from __future__ import annotations

from django.apps import AppConfig


class AuditConfig(AppConfig):
    """The record of who changed what; rows are only ever added."""

    default_auto_field = "django.db.models.BigAutoField"
    name = "kitchen.audit"
    label = "audit"
