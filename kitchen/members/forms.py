"""What a person chooses for themselves, and what a lead says about people and premises."""

from __future__ import annotations

from datetime import time
from typing import TYPE_CHECKING

from django import forms
from django.contrib.auth.forms import SetPasswordForm

from kitchen.members.models import MOST_ALTITUDE_FT, Kitchen, Language, Role, UnitsChoice, User
from kitchen.members.signing_in import set_password

STRETCHES = 2
"""So many stretches of opening hours has a day in the form."""
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


class AboutMeForm(forms.Form):
    """The language and the units of pages and messages."""

    language = forms.ChoiceField(label="Language", choices=Language)
    units = forms.ChoiceField(label="Units", choices=UnitsChoice)


class PersonForm(forms.Form):
    """A person to be taken into the kitchen."""

    name = forms.CharField(label="Name", max_length=80)
    email = forms.EmailField(label="E-mail address")
    role = forms.ChoiceField(label="Role", choices=Role, initial=Role.MEMBER)
    under_16 = forms.BooleanField(label="Under 16", required=False)


class StandingForm(forms.Form):
    """What a person may do here."""

    role = forms.ChoiceField(label="Role", choices=Role)
    under_16 = forms.BooleanField(label="Under 16", required=False)


class TrainingForm(forms.Form):
    """That a person was trained, by whom and until when it counts."""

    trained_on = forms.DateField(
        label="Trained on", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    trained_by = forms.CharField(label="Trained by", max_length=80)
    expires_on = forms.DateField(
        label="Counts until (empty: without end)",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )


class SiteForm(forms.Form):
    """Where the kitchen is: pressures and times follow the altitude."""

    altitude_ft = forms.IntegerField(label="Altitude, feet", min_value=0, max_value=MOST_ALTITUDE_FT)
    time_zone = forms.CharField(label="Time zone, such as America/Denver", max_length=40)


class HoursForm(forms.Form):
    """The usual opening hours of a week, two stretches a day; a stretch left empty is none."""

    def __init__(self, *args: object, kitchen: Kitchen, **more: object) -> None:
        super().__init__(*args, **more)  # type: ignore[arg-type]  # passed on as they came
        standing: dict[int, list[tuple[time, time]]] = {day: [] for day in range(7)}
        for one in kitchen.opening_hours.order_by("weekday", "opens"):
            standing[one.weekday].append((one.opens, one.closes))
        for day in range(7):
            for number in range(STRETCHES):
                span = standing[day][number] if number < len(standing[day]) else (None, None)
                for edge, at in zip(("opens", "closes"), span, strict=True):
                    self.fields[f"{edge}_{day}_{number}"] = forms.TimeField(
                        label=_WORDS[edge, number],
                        required=False,
                        initial=at and f"{at:%H:%M}",
                        widget=forms.TimeInput(attrs={"type": "time"}),
                    )

    def days(self) -> list[tuple[str, list[forms.BoundField]]]:
        """Each weekday's name with its fields, for a page."""
        return [
            (
                name,
                [
                    self[f"{edge}_{day}_{number}"]
                    for number in range(STRETCHES)
                    for edge in ("opens", "closes")
                ],
            )
            for day, name in enumerate(WEEKDAYS)
        ]

    def hours(self, day: int) -> list[tuple[time, time]]:
        """The stretches given for a weekday."""
        given = [
            (self.cleaned_data[f"opens_{day}_{number}"], self.cleaned_data[f"closes_{day}_{number}"])
            for number in range(STRETCHES)
        ]
        return [(opens, closes) for opens, closes in given if opens is not None and closes is not None]

    def clean(self) -> dict[str, object]:
        """Refuse an opening without a closing, and the other way round."""
        given: dict[str, object] = super().clean() or self.cleaned_data
        for day in range(7):
            for number in range(STRETCHES):
                opens, closes = f"opens_{day}_{number}", f"closes_{day}_{number}"
                if (given.get(opens) is None) != (given.get(closes) is None):
                    missing = closes if given.get(closes) is None else opens
                    if missing not in self.errors:
                        self.add_error(missing, "Give both the opening and the closing, or neither.")
        return given


_WORDS = {
    ("opens", 0): "Opens",
    ("closes", 0): "Closes",
    ("opens", 1): "Opens again",
    ("closes", 1): "Closes again",
}


if TYPE_CHECKING:
    _SetPassword = SetPasswordForm[User]
else:
    _SetPassword = SetPasswordForm


class NewPasswordForm(_SetPassword):
    """A new password, typed twice. It is set by the action that records it."""

    def save(self, commit: bool = True) -> User:
        """Set the password."""
        del commit
        set_password(user=self.user, password=self.cleaned_data["new_password1"], actor=self.user)
        return self.user
