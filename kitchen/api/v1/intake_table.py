"""A table of what is brought, looked at and noted."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from kitchen.api.base.access import KitchenView, Need
from kitchen.api.base.fields import Given, RowHere
from kitchen.api.v1.batches import BatchShown
from kitchen.batches.bringing import bring_table
from kitchen.batches.intake_rows import Row, read_rows
from kitchen.batches.models import Batch
from kitchen.batches.sheet import MOST_BYTES
from kitchen.language.said import said
from kitchen.members.rules import Deed
from kitchen.planning.queries import days_of


class TableGiven(Given):
    """Comma-separated values: the headings ``food,amount,unit,jar,pack`` first, then one row for each thing.

    ``arrives`` and ``picks_up`` as 14:30 on the kitchen's clock, and for a lead ``member``, an e-mail address, are
    optional.
    """

    day = RowHere(days_of, gives="pk")
    table = serializers.CharField(max_length=MOST_BYTES, trim_whitespace=False)


class BringGiven(TableGiven):
    """With ``skip_wrong`` the rows that are fine are noted where others are not; else it is all or none."""

    skip_wrong = serializers.BooleanField(default=False)


class ProblemOfRow(serializers.Serializer[Any]):
    """What is wrong in a cell, or in the row where ``column`` is empty, and what to do."""

    column = serializers.CharField(allow_blank=True)
    message = serializers.CharField()
    remedy = serializers.CharField()


class RowLookedAt(serializers.Serializer[Any]):
    """A row by its number in the file, the headings being 1; one without problems can be noted."""

    row = serializers.IntegerField()
    food = serializers.CharField(allow_blank=True)
    jars = serializers.IntegerField(allow_null=True)
    problems = ProblemOfRow(many=True)


class TableLookedAt(serializers.Serializer[Any]):
    """Every row."""

    rows = RowLookedAt(many=True)


class TableBrought(serializers.Serializer[Any]):
    """What was noted."""

    batches = BatchShown(many=True)


class Tables(KitchenView):
    """What many rows bring to a harvest day."""

    model, shown = Batch, BatchShown
    needs = {"check": Need(Deed.DECLARE_BATCH), "create": Need(Deed.DECLARE_BATCH, keyed=True)}

    @extend_schema(operation_id="batches_check_table", request=TableGiven, responses=TableLookedAt)
    def check(self, request: Request, kitchen: UUID) -> Response:
        """Look at a table row by row. Nothing is written."""
        given = self.given(TableGiven)
        rows = read_rows(kitchen=self.here, harvest_day_id=given["day"], text=given["table"], actor=self.me)
        return Response({"rows": [_told(row) for row in rows]})

    @extend_schema(operation_id="batches_bring_table", request=BringGiven, responses={201: TableBrought})
    def create(self, request: Request, kitchen: UUID) -> Response:
        """Note what a table brings, in one go; each row becomes a batch."""
        given = self.given(BringGiven)

        def bring() -> Response:
            made = bring_table(
                kitchen=self.here,
                harvest_day_id=given["day"],
                text=given["table"],
                actor=self.me,
                skip_wrong=given["skip_wrong"],
            )
            return Response({"batches": [self.told(batch) for batch in made]}, status=201)

        return self.once(bring)


def _told(row: Row) -> dict[str, object]:
    return {
        "row": row.number,
        "food": row.makes.food_id if row.makes else row.cells["food"],
        "jars": row.makes.jars_high if row.makes else None,
        "problems": [
            {"column": one.column, "message": said(one.message), "remedy": said(one.remedy)}
            for one in row.problems
        ],
    }
