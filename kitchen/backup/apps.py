"""The app's entry in the settings."""

from __future__ import annotations

from django.apps import AppConfig


class BackupConfig(AppConfig):
    """Backup and restore."""

    name = "kitchen.backup"
    label = "backup"
