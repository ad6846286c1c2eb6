"""What an operator writes down: a step, when it happened, and what the gauge showed."""

from __future__ import annotations

from datetime import datetime

from django import forms

from kitchen.floor.models import EventKind


class WallTimeField(forms.Field):
    """A date and time as a browser writes it, still without a zone: the view knows the kitchen's."""

    def to_python(self, value: object) -> datetime | None:
        """The time, or None where nothing was given."""
        if not value:
            return None
        try:
            return datetime.fromisoformat(str(value)).replace(tzinfo=None)
        except ValueError as error:
            raise forms.ValidationError("Give the time as year-month-day and hour:minute.") from error


class StepForm(forms.Form):
    """A line for the process record. The time is the kitchen's own; without one it is now."""

    kind = forms.ChoiceField(choices=EventKind)
    at = WallTimeField(required=False)
    reading_psi = forms.FloatField(required=False, min_value=0, max_value=30)
    note = forms.CharField(required=False, max_length=500)
