"""Jar labels as PDF."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.renderers import BaseRenderer
from rest_framework.request import Request

from kitchen.api.base.access import KitchenView, Need
from kitchen.api.base.fields import Given, RowShown
from kitchen.api.base.problems import ProblemRenderer
from kitchen.batches.models import Batch
from kitchen.errors import NotReadyForLabel
from kitchen.labels.drawing import Copies, sheets_pdf
from kitchen.labels.queries import Lot, lots_of_batch, lots_of_portion
from kitchen.labels.rules import labelled_by, why_no_label
from kitchen.labels.stock import SHEETS, sheet_named
from kitchen.labels.words import label_of
from kitchen.members.rules import Deed
from kitchen.planning.models import LoadPortion

_MOST_PLACES = 500


class Pdf(BaseRenderer):
    """Says that PDF is what an operation gives; what it gives is made elsewhere."""

    media_type = "application/pdf"
    format = "pdf"
    charset = None
    render_style = "binary"

    def render(self, data: bytes, *args: object, **kwargs: object) -> bytes:
        """As it is."""
        return data


class LabelsAsked(Given):
    """On which sheet, from which label on, with the member's name or not; ``outlines`` for plain paper."""

    sheet = serializers.ChoiceField(choices=sorted(SHEETS))
    start = serializers.IntegerField(min_value=1, max_value=_MOST_PLACES, default=1)
    with_name = serializers.BooleanField(default=True)
    outlines = serializers.BooleanField(default=False)


class PortionNamed(RowShown):
    """A portion by its id."""

    class Meta:
        model = LoadPortion
        fields = ("id",)


class Labels(KitchenView):
    """Labels for jars on hand that are sealed and not on hold, one for each."""

    model, shown = LoadPortion, PortionNamed
    renderer_classes = (Pdf, ProblemRenderer)
    needs = {"of_batch": Need(Deed.LABEL_OWN_JARS), "of_portion": Need(Deed.LABEL_OWN_JARS)}

    @extend_schema(
        operation_id="labels_of_batch",
        parameters=[LabelsAsked],
        responses={(200, "application/pdf"): OpenApiTypes.BINARY},
    )
    def of_batch(self, request: Request, kitchen: UUID, batch: UUID) -> HttpResponse:
        """Labels for all jars of a batch, whatever loads they were in."""
        return self._pdf(lots_of_batch(get_object_or_404(Batch, kitchen=self.here, uuid=batch)))

    @extend_schema(
        operation_id="labels_of_portion",
        parameters=[LabelsAsked],
        responses={(200, "application/pdf"): OpenApiTypes.BINARY},
    )
    def of_portion(self, request: Request, kitchen: UUID, portion: UUID) -> HttpResponse:
        """Labels for the jars of one batch in one load."""
        found = get_object_or_404(LoadPortion, load__harvest_day__kitchen=self.here, uuid=portion)
        return self._pdf(lots_of_portion(found))

    def _pdf(self, lots: Sequence[Lot]) -> HttpResponse:
        asked, mine = self.asked(LabelsAsked), labelled_by(self.me, self.here, lots)
        if lots and not mine:
            raise Http404
        copies = [
            Copies(words=label_of(lot, with_name=asked["with_name"]), count=lot.on_hand)
            for lot in mine
            if why_no_label(lot) is None and lot.on_hand
        ]
        if not copies:
            raise next(
                (why for lot in mine if (why := why_no_label(lot))),
                NotReadyForLabel("There is no jar here to put a label on.", remedy="Count the seals first."),
            )
        sheet = sheet_named(asked["sheet"])
        made = sheets_pdf(copies, sheet, start=asked["start"], outlines=asked["outlines"])
        return HttpResponse(made, content_type="application/pdf")
