"""When a harvest day is, and when a person can help."""

from __future__ import annotations

from collections.abc import Mapping

from django import forms
from django.http import QueryDict

from kitchen.rota.forms import HoursForm

Choices = list[tuple[str, str]]
"""What may be chosen: the value that is sent, and what is shown."""


class HelpForm(HoursForm):
    """When a person can help, and whether their calendar's busy times shall be taken out."""

    despite_busy = forms.BooleanField(label="I come all the same while my calendar says busy", required=False)


class HappenedForm(forms.Form):
    """What happened to a day under way that no process record says; every part may stay empty."""

    canner = forms.ChoiceField(label="A canner has failed", required=False)
    failure = forms.CharField(label="What is wrong with it", max_length=120, required=False)
    gone = forms.ChoiceField(label="Somebody has gone home", required=False)
    more = forms.ChoiceField(label="A batch is more, or less, than was said", required=False)
    jars = forms.IntegerField(label="Jars of it in all", min_value=1, required=False)
    late = forms.ChoiceField(label="A batch comes later", required=False)
    arrives = forms.TimeField(
        label="It arrives at",
        required=False,
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
    )

    def __init__(self, data: QueryDict | None = None, *, choices: Mapping[str, Choices]) -> None:
        super().__init__(data)
        for name, found in choices.items():
            field = self.fields[name]
            assert isinstance(field, forms.ChoiceField)  # noqa: S101  (they are declared so above)
            field.choices = [("", "no"), *found]

    def clean(self) -> dict[str, object]:
        """Refuse half an answer: a canner without its fault, a batch without its jars or its time."""
        given: dict[str, object] = super().clean() or {}
        for what, detail in (("canner", "failure"), ("more", "jars"), ("late", "arrives")):
            if given.get(what) and not given.get(detail) and detail not in self.errors:
                self.add_error(detail, "Fill this in as well.")
        return given


class OpenForm(forms.Form):
    """The date of a harvest day, and from when to when the kitchen is open."""

    date = forms.DateField(label="Date", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    opens = forms.TimeField(label="Opens", widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"))
    closes = forms.TimeField(label="Closes", widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"))
