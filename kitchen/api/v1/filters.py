"""The base of all filters: fields that are named one by one, over rows that are the kitchen's already."""

from __future__ import annotations

from django_filters import rest_framework as filters


class Filters(filters.FilterSet):  # type: ignore[misc]  # The library carries no types.
    """Filters compare values with the rows of this kitchen; none of them looks among the rows of others."""
