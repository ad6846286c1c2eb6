"""Taking data out: the whole kitchen as a zip, and one's own as JSON."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import FileResponse
from django.utils import timezone
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.renderers import BaseRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from kitchen.api.base.access import KitchenView, Need
from kitchen.api.base.problems import ProblemRenderer
from kitchen.api.v1.kitchens import KitchenShown
from kitchen.export.actions import export_kitchen
from kitchen.export.writing import data_of
from kitchen.members.models import Kitchen
from kitchen.members.rules import Deed


class Zip(BaseRenderer):
    """Says that a zip is what an operation gives; what it gives is made elsewhere."""

    media_type = "application/zip"
    format = "zip"
    charset = None
    render_style = "binary"

    def render(self, data: Any, *args: object, **kwargs: object) -> Any:
        """As it is."""
        return data


class WholeKitchen(KitchenView):
    """Everything the kitchen has."""

    model, shown = Kitchen, KitchenShown
    renderer_classes = (Zip, ProblemRenderer)
    needs = {"take": Need(Deed.EXPORT_KITCHEN)}

    @extend_schema(
        operation_id="kitchens_export",
        request=None,
        responses={(200, "application/zip"): OpenApiTypes.BINARY},
    )
    def take(self, request: Request, kitchen: UUID) -> FileResponse:
        """Everything the kitchen has: tables as CSV, documents as JSON, a README. That it was taken is noted."""
        file = export_kitchen(kitchen=self.here, actor=self.me, now=timezone.now())
        return FileResponse(file, filename=f"{self.here.slug}.zip", content_type=Zip.media_type)


class MyData(KitchenView):
    """What is known of me."""

    model, shown = Kitchen, KitchenShown
    needs = {"read": Need(Deed.SEE)}

    @extend_schema(operation_id="my_data", responses=OpenApiTypes.OBJECT)
    def read(self, request: Request, kitchen: UUID) -> Response:
        """Everything that this kitchen knows of me, by table; also what I wrote down."""
        return Response(data_of(self.me, self.here))
