"""When a person can help."""

from __future__ import annotations

from django import forms


class HoursForm(forms.Form):
    """From when to when a person is there, on the kitchen's wall clock."""

    starts = forms.TimeField(label="From", widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"))
    ends = forms.TimeField(label="To", widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"))
