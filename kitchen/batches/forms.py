"""The intake form: three fields, and the rest with sensible values."""

from __future__ import annotations

from datetime import time
from typing import Any  # Django passes on what a form was built with, and gives what it holds.

from django import forms

from kitchen.batches.models import Jar, Pack, Unit
from kitchen.batches.sheet import text_of
from kitchen.language.person import Units, units_in_use
from kitchen.language.units import kilograms_as_pounds

KILOGRAMS = ("kilograms", "kilograms")


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

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if units_in_use() is Units.METRIC:
            self.fields["unit"].choices = [KILOGRAMS, *Unit.choices]  # type: ignore[attr-defined]  # Of a choice.

    def clean(self) -> dict[str, Any]:
        """Kilograms are kept as the pounds that yields are printed for."""
        given = super().clean() or {}
        if given.get("unit") == KILOGRAMS[0] and "amount" in given:
            given |= {"unit": Unit.POUNDS.value, "amount": kilograms_as_pounds(given["amount"])}
        return given

    @property
    def pack_words(self) -> str:
        """The pack as chosen, or as it is before anybody chose."""
        chosen = self["pack"].value()
        return Pack(chosen).label if chosen in Pack.values else Pack.HOT.label

    @staticmethod
    def hours(opens: time, closes: time) -> dict[str, object]:
        """The values to begin with on a day with these hours."""
        return {"arrives": opens, "picks_up": closes}


class ConfirmForm(forms.Form):
    """Which publication a line was compared with."""

    publication = forms.CharField(label="Publication", max_length=200, required=False)


class TableForm(forms.Form):
    """What many bring, as a file or written into the page."""

    file = forms.FileField(
        label="Table as a file (.csv)",
        required=False,
        allow_empty_file=True,
        widget=forms.FileInput(attrs={"accept": ".csv,text/csv,text/plain"}),
    )
    table = forms.CharField(
        label="Rows",
        required=False,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 8, "spellcheck": "false", "autocomplete": "off", "wrap": "off"}),
    )

    def text(self) -> str:
        """What is to be looked at: the file when there is one. ``BadTable`` when it is no text or too large."""
        file = self.cleaned_data["file"]
        return text_of(file.read()) if file else str(self.cleaned_data["table"])
