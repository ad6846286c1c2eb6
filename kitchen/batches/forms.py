"""The intake form: three fields, and the rest with sensible values."""

from __future__ import annotations

from datetime import time

from django import forms

from kitchen.batches.models import Jar, Pack, Unit


class IntakeForm(forms.Form):
    """What a member will bring: which food, how much, in which jars."""

    food = forms.CharField(
        label="Food", max_length=120, widget=forms.TextInput(attrs={"list": "foods", "autocomplete": "off"})
    )
    amount = forms.DecimalField(label="How much", min_value=0, max_digits=8, decimal_places=2)
    unit = forms.ChoiceField(label="counted in", choices=Unit, initial=Unit.BUSHEL)
    jar = forms.ChoiceField(label="Jars", choices=Jar, initial=Jar.PINT)
    pack = forms.ChoiceField(label="Pack", choices=Pack, initial=Pack.HOT)
    arrives = forms.TimeField(
        label="I arrive at", widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )
    picks_up = forms.TimeField(
        label="I pick up by", widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )

    @property
    def pack_words(self) -> str:
        """The pack as chosen, or as it is before anybody chose."""
        chosen = self["pack"].value()
        return Pack(chosen).label if chosen in Pack.values else Pack.HOT.label

    @staticmethod
    def hours(opens: time, closes: time) -> dict[str, object]:
        """The values to begin with on a day with these hours."""
        return {"arrives": opens, "picks_up": closes}
