"""Every other address below the API's."""

from __future__ import annotations

from drf_spectacular.utils import extend_schema
from rest_framework.exceptions import NotFound
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.views import APIView


@extend_schema(exclude=True)
class Missing(APIView):
    """Not found, as a problem instead of a page."""

    authentication_classes = ()
    permission_classes = (AllowAny,)

    def initial(self, request: Request, *args: object, **kwargs: object) -> None:
        """Whatever the method."""
        super().initial(request, *args, **kwargs)
        raise NotFound
