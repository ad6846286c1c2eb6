"""Lists in pages, each leading to the next."""

from __future__ import annotations

from rest_framework.pagination import CursorPagination


class Pages(CursorPagination):
    """Pages that stay right while rows come and go: the next begins after the last row that was read."""

    page_size = 50
    page_size_query_param = "page_size"
    max_page_size = 200
    ordering = ("-pk",)
