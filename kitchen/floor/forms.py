"""What an operator writes down: a step, when it happened, and what the gauge showed."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import QuerySet
from django.http import QueryDict

from kitchen.floor.models import EventKind, RunEvent
from kitchen.floor.rules import BOILING_F
from kitchen.language.person import Units, units_in_use
from kitchen.language.units import TEMPERATURE
from kitchen.members.models import Membership, User
from kitchen.seals.models import HoldOutcome

# Browsers leave out the seconds when they are 0.
_LOCAL = ["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"]


class _PressForm(forms.Form):
    """``seen`` is the newest line of the record that the press was shown for."""

    seen = forms.IntegerField(min_value=0)


def initial_temperature(event: RunEvent) -> str:
    """What a line says of the food's temperature, as the form asks for it in the reader's unit; empty when nothing."""
    if event.initial_temp_f is None:
        return ""
    metric = units_in_use() is Units.METRIC
    return f"{float(TEMPERATURE.to_metric(event.initial_temp_f)) if metric else event.initial_temp_f:.4g}"


class _TemperatureForm(forms.Form):
    """The temperature of the food as the heat goes on, in the unit in which the page asked for it; kept in °F."""

    initial_temp = forms.FloatField(required=False, min_value=0, max_value=BOILING_F)
    degrees = forms.ChoiceField(required=False, choices=[("F", "°F"), ("C", "°C")])

    def clean(self) -> dict[str, Any]:
        """The fields, with ``initial_temp_f`` among them; None when nothing was written."""
        given: dict[str, Any] = super().clean() or self.cleaned_data
        typed = given.get("initial_temp")
        if typed is not None and given.get("degrees") == "C":
            typed = round(float(TEMPERATURE.from_metric(typed)), 1)
        return given | {"initial_temp_f": typed}


class StepForm(_PressForm, _TemperatureForm):
    """A line for the process record. The time is the kitchen's own; without one it is now."""

    kind = forms.ChoiceField(choices=[one for one in EventKind.choices if one[0] != EventKind.HAND_OVER])
    at = forms.DateTimeField(required=False, input_formats=_LOCAL)
    reading_psi = forms.FloatField(required=False, min_value=0, max_value=30)
    note = forms.CharField(required=False, max_length=500)


class JarsOutForm(_PressForm):
    """When the jars came out, and what happened when that was not as it should be."""

    at = forms.DateTimeField(required=False, input_formats=_LOCAL)
    deviation = forms.CharField(required=False, max_length=500)


class HandOverForm(_PressForm):
    """Who takes over the watch, when, and what else is to be said."""

    to = forms.ModelChoiceField(queryset=User.objects.none(), to_field_name="uuid")
    at = forms.DateTimeField(required=False, input_formats=_LOCAL)
    note = forms.CharField(required=False, max_length=500)

    def __init__(self, data: QueryDict, *, members: QuerySet[Membership]) -> None:
        super().__init__(data)
        self.fields["to"].queryset = User.objects.filter(memberships__in=members)  # type: ignore[attr-defined]  # Of a choice.


class CorrectForm(_TemperatureForm):
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
