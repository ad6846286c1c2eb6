"""Timed work, and how the kitchen plans by its records."""

from __future__ import annotations

from collections.abc import Mapping

from django import forms
from django.db.models import QuerySet

from kitchen.batches.models import Batch
from kitchen.learning.models import WORK_KINDS
from kitchen.learning.rules import MOST_HANDS, MOST_WORK_MINUTES

KEPT_CHOICES = [(percent, f"{percent} of 100") for percent in (50, 60, 70, 80, 90, 95)]


class WorkForm(forms.Form):
    """How long some people took for some jars of a batch."""

    batch = forms.ModelChoiceField(
        queryset=Batch.objects.none(),
        label="Batch",
        to_field_name="uuid",
        empty_label="Choose a batch",
    )
    kind = forms.ChoiceField(choices=[(kind.value, kind.label) for kind in WORK_KINDS], label="Work")
    jars = forms.IntegerField(min_value=1, label="Jars")
    hands = forms.IntegerField(min_value=1, max_value=MOST_HANDS, label="People")
    minutes = forms.FloatField(min_value=1, max_value=MOST_WORK_MINUTES, label="Minutes it took")

    def __init__(self, batches: QuerySet[Batch], data: Mapping[str, object] | None = None) -> None:
        super().__init__(data)
        self.fields["batch"].queryset = batches  # type: ignore[attr-defined]  # a ModelChoiceField


class UseForm(forms.Form):
    """Whether plans use the records, and how many of a hundred loads shall keep a learned time."""

    plan_by_records = forms.BooleanField(required=False, label="Plan by these records")
    kept_percent = forms.TypedChoiceField(
        choices=KEPT_CHOICES, coerce=int, label="Loads that keep a learned time"
    )
