"""What is to be canned, how much, and from when: three fields, and the rest with sensible values."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from django import forms

from kitchen.batches.models import MOST_JARS_IN_BATCH, Jar
from kitchen.booking.bridge import Wanted, what_choices
from kitchen.language.widgets import KeptSelect
from kitchen.members.models import Kitchen, Membership


class WantedForm(forms.Form):
    """The question whose answer is a list of times."""

    what = forms.ChoiceField(label="What", choices=(), widget=KeptSelect)
    jars = forms.IntegerField(label="How many jars", min_value=1, max_value=MOST_JARS_IN_BATCH)
    jar = forms.ChoiceField(label="of which size", choices=Jar, initial=Jar.PINT)
    day = forms.DateField(
        label="From which day on", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    people = forms.IntegerField(label="How many come, yourself counted", min_value=1, initial=1)
    member = forms.ChoiceField(label="For whom", required=False)

    def __init__(
        self, data: object, *, kitchen: Kitchen, today: date, others: Iterable[Membership] = ()
    ) -> None:
        super().__init__(data, initial={"day": today})  # type: ignore[arg-type]
        self.fields["what"].choices = [("", "Choose a food and its pack"), *what_choices()]  # type: ignore[attr-defined]
        self.fields["day"].widget.attrs["min"] = today.isoformat()
        self.fields["people"].widget.attrs["max"] = kitchen.most_in_group
        members = [(str(one.user.uuid), str(one.user)) for one in others]
        if members:
            self.fields["member"].choices = [("", "Myself"), *members]  # type: ignore[attr-defined]
        else:
            del self.fields["member"]

    def wanted(self) -> Wanted:
        """What was asked for, once the form is valid."""
        given = self.cleaned_data
        food, pack = given["what"].rsplit(":", 1)
        return Wanted(food_id=food, pack=pack, jar=given["jar"], jars=given["jars"], people=given["people"])
