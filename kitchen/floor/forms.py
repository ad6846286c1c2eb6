"""What an operator writes down: a step, when it happened, and what the gauge showed."""

from __future__ import annotations

from django import forms

from kitchen.floor.models import EventKind
from kitchen.seals.models import HoldOutcome

# Browsers leave out the seconds when they are 0.
_LOCAL = ["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"]


class _PressForm(forms.Form):
    """``seen`` is the newest line of the record that the press was shown for."""

    seen = forms.IntegerField(min_value=0)


class StepForm(_PressForm):
    """A line for the process record. The time is the kitchen's own; without one it is now."""

    kind = forms.ChoiceField(choices=EventKind)
    at = forms.DateTimeField(required=False, input_formats=_LOCAL)
    reading_psi = forms.FloatField(required=False, min_value=0, max_value=30)
    note = forms.CharField(required=False, max_length=500)


class JarsOutForm(_PressForm):
    """When the jars came out, and what happened when that was not as it should be."""

    at = forms.DateTimeField(required=False, input_formats=_LOCAL)
    deviation = forms.CharField(required=False, max_length=500)


class CorrectForm(forms.Form):
    """When a step really happened, what the gauge then showed, and why the line was wrong."""

    at = forms.DateTimeField(input_formats=_LOCAL)
    reading_psi = forms.FloatField(required=False, min_value=0, max_value=30)
    note = forms.CharField(max_length=500)


class WithdrawForm(forms.Form):
    """Why a line of the record is taken back."""

    note = forms.CharField(max_length=500)


class HoldForm(forms.Form):
    """A lead's decision about jars on hold, and why."""

    outcome = forms.ChoiceField(choices=HoldOutcome)
    reason = forms.CharField(max_length=1000)
