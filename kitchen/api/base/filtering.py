"""Filters of lists, read strictly."""

from __future__ import annotations

from django_filters.rest_framework import DjangoFilterBackend

from kitchen.api.base.problems import InvalidQuery


class ByFilters(DjangoFilterBackend):  # type: ignore[misc]  # The library carries no types.
    """What cannot be read is refused with the parameter that is wrong."""

    def filter_queryset(self, request, queryset, view):  # type: ignore[no-untyped-def]  # As the library's.
        """The rows that the filters leave."""
        filterset = self.get_filterset(request, queryset, view)
        if filterset is None:
            return queryset
        if not filterset.is_valid():
            raise InvalidQuery(
                {
                    name: [problem.messages[0] for problem in problems]
                    for name, problems in filterset.errors.as_data().items()
                }
            )
        return filterset.qs
