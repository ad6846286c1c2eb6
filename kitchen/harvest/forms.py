"""When a harvest day is, and when a person can help."""

from __future__ import annotations

from django import forms


class HoursForm(forms.Form):
    """From when to when a person is there, on the kitchen's wall clock."""

    starts = forms.TimeField(label="From", widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"))
    ends = forms.TimeField(label="To", widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"))


class OpenForm(forms.Form):
    """The date of a harvest day, and from when to when the kitchen is open."""

    date = forms.DateField(label="Date", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    opens = forms.TimeField(label="Opens", widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"))
    closes = forms.TimeField(label="Closes", widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"))
