"""What a member counts: sealed, unsealed and broken jars."""

from __future__ import annotations

from django import forms


class CountForm(forms.Form):
    """The counts of one portion; together they are the jars that went in."""

    sealed = forms.IntegerField(min_value=0, label="Sealed")
    unsealed = forms.IntegerField(min_value=0, label="Not sealed, or doubtful")
    broken = forms.IntegerField(min_value=0, label="Broken")
    correct = forms.BooleanField(required=False, widget=forms.HiddenInput)
