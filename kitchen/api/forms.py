"""What is asked before a token is made."""

from __future__ import annotations

from django import forms

from kitchen.api.models import Scope


class TokenForm(forms.Form):
    """A name by which its person knows the token again, and what it opens."""

    name = forms.CharField(label="Name of the device or program", max_length=60)
    scopes = forms.MultipleChoiceField(
        label="It may", choices=Scope, widget=forms.CheckboxSelectMultiple, initial=[Scope.BOARD]
    )
