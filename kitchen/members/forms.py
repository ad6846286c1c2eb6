"""What a person chooses for themselves."""

from __future__ import annotations

from django import forms

from kitchen.members.models import Language, UnitsChoice


class AboutMeForm(forms.Form):
    """The language and the units of pages and messages."""

    language = forms.ChoiceField(label="Language", choices=Language)
    units = forms.ChoiceField(label="Units", choices=UnitsChoice)
