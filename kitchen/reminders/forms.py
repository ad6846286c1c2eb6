"""What a person says about the e-mail they want."""

from __future__ import annotations

from django import forms

from kitchen.reminders.timing import OPTIONAL

_CLOCK = forms.TimeInput(attrs={"type": "time"}, format="%H:%M")


class MailForm(forms.Form):
    """Quiet hours, a digest, and the kinds that e-mail is wanted about."""

    quiet_from = forms.TimeField(label="Quiet from", required=False, widget=_CLOCK)
    quiet_until = forms.TimeField(label="Quiet until", required=False, widget=_CLOCK)
    once_a_day = forms.BooleanField(
        label="News of the rota and of the shelf in one message a day, at 18:00", required=False
    )
    wanted = forms.MultipleChoiceField(
        label="E-mail about",
        choices=[(kind.value, kind.label) for kind in OPTIONAL],
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
