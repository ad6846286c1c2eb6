"""What is asked before labels are printed, and when jars leave the shelf."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from kitchen.labels.models import MoveKind
from kitchen.labels.queries import Lot
from kitchen.labels.stock import SHEETS, letter_paper
from kitchen.members.models import Kitchen


class LabelsForm(forms.Form):
    """The sheet and where on it to begin, and how many labels of each lot: as many as jars on hand, or other."""

    sheet = forms.ChoiceField(label="Sheet", choices=[(sheet.id, sheet.words) for sheet in SHEETS.values()])
    start = forms.IntegerField(
        min_value=1, initial=1, label="First free label, counted along the rows from the top left"
    )
    with_name = forms.BooleanField(required=False, initial=True, label="Print the member's name")
    outlines = forms.BooleanField(required=False, label="Draw the edges, for plain paper to be cut")

    def __init__(self, lots: Sequence[Lot], data: Any = None) -> None:
        super().__init__(data)
        self._lots = lots
        for lot in lots:
            self.fields[_count(lot)] = forms.IntegerField(
                min_value=0, max_value=lot.sealed, initial=lot.on_hand, label=f"Labels for lot {lot.code}"
            )

    @property
    def counts(self) -> list[tuple[Lot, forms.BoundField]]:
        """Each lot with the field that asks for the number of its labels."""
        return [(lot, self[_count(lot)]) for lot in self._lots]

    def wanted(self) -> list[tuple[Lot, int]]:
        """How many labels of which lot."""
        return [(lot, self.cleaned_data[_count(lot)]) for lot in self._lots]

    def clean(self) -> dict[str, Any]:
        """Refuse a place that is not on the sheet, and no label at all."""
        given = super().clean() or {}
        sheet = SHEETS.get(given.get("sheet", ""))
        if sheet is not None and given.get("start", 1) > sheet.labels:
            self.add_error("start", f"This sheet has {sheet.labels} labels.")
        if not any(given.get(_count(lot)) for lot in self._lots) and not self.errors:
            raise forms.ValidationError("No label is asked for. Say how many of a lot.")
        return given


class MoveForm(forms.Form):
    """Jars that left the shelf, or came back."""

    kind = forms.ChoiceField(choices=MoveKind, label="What became of them")
    jars = forms.IntegerField(min_value=1, label="How many jars")
    note = forms.CharField(required=False, max_length=200, label="To whom, or why")


class AgainForm(forms.Form):
    """As which lot unsealed jars were processed again."""

    code = forms.CharField(max_length=60)


def first_sheet(kitchen: Kitchen) -> str:
    """What is offered first: the paper of the kitchen's part of the world."""
    american = letter_paper(kitchen.time_zone)
    return next(sheet.id for sheet in SHEETS.values() if (sheet.paper != "A4") == american)


def _count(lot: Lot) -> str:
    return f"labels-{lot.portion.uuid}"
