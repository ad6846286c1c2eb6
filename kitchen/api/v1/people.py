"""A person as others in the kitchen see them."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers


class PersonShown(serializers.Serializer[Any]):
    """A name, and the id by which requests name the person."""

    id = serializers.UUIDField(source="uuid")
    name = serializers.CharField(source="display_name")
