"""What a member asks of a rota, and the calendar in which they are busy."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.db.models import QuerySet

from kitchen.helping.models import (
    LEAST_DAY_MINUTES,
    MOST_DAY_MINUTES,
    Feeling,
    Station,
    Wishes,
)
from kitchen.helping.reading import MOST_BYTES
from kitchen.http.outward import LONGEST_ADDRESS
from kitchen.language.widgets import KeptSelect
from kitchen.members.models import Membership

_FEELINGS = [("", "as needed"), *((feeling.value, feeling.label) for feeling in Feeling)]
# Common practice, no source: see Membership.under_16 and the rules of the rota.
_NEVER_UNDER_16 = (Station.CANNER, Station.KETTLE)


class WishesForm(forms.Form):
    """A choice for each station, and the rest of a member's wishes.

    Whoever is under 16 is not asked about canners and kettles, and nobody who is trained about learning.
    """

    most_hours = forms.DecimalField(
        label="Most hours in one day",
        required=False,
        min_value=Decimal(LEAST_DAY_MINUTES) / 60,
        max_value=Decimal(MOST_DAY_MINUTES) / 60,
        decimal_places=2,
        widget=forms.NumberInput(attrs={"step": "0.25"}),
        help_text="Leave it empty when you set no limit.",
    )
    comes_with = forms.ModelChoiceField(
        queryset=Membership.objects.none(),
        label="I come and go with",
        required=False,
        empty_label="nobody",
        to_field_name="uuid",
        widget=KeptSelect,
    )
    learning = forms.BooleanField(
        label="I am learning to run a canner, beside a trained person", required=False
    )

    def __init__(
        self,
        membership: Membership,
        others: QuerySet[Membership],
        data: Mapping[str, object] | None = None,
        *,
        wishes: Wishes,
        stations: Mapping[str, str],
        trained: bool,
    ) -> None:
        super().__init__(
            data,
            initial={
                **stations,
                "most_hours": None if wishes.most_minutes is None else f"{wishes.most_minutes / 60:g}",
                "comes_with": wishes.comes_with.uuid if wishes.comes_with else None,
                "learning": wishes.learning,
            },
        )
        self.fields["comes_with"].queryset = others  # type: ignore[attr-defined]  # a ModelChoiceField
        self.fields["comes_with"].label_from_instance = lambda one: str(one.user)  # type: ignore[attr-defined]  # so too
        asked = [one for one in Station if not (membership.under_16 and one in _NEVER_UNDER_16)]
        for station in asked:
            self.fields[station.value] = forms.ChoiceField(
                choices=_FEELINGS, label=station.label, required=False, widget=KeptSelect
            )
        self._asked = asked
        if membership.under_16 or trained:
            del self.fields["learning"]

    @property
    def station_fields(self) -> list[forms.BoundField]:
        """The choices, station by station."""
        return [self[station.value] for station in self._asked]

    def stations(self, feeling: Feeling) -> frozenset[Station]:
        """The stations of which this was chosen."""
        return frozenset(one for one in self._asked if self.cleaned_data[one.value] == feeling.value)

    @property
    def most_minutes(self) -> int | None:
        """The limit in whole minutes."""
        hours = self.cleaned_data["most_hours"]
        return None if hours is None else round(hours * 60)


class FileForm(forms.Form):
    """A calendar as a file."""

    file = forms.FileField(
        label="Calendar file (.ics)",
        widget=forms.FileInput(attrs={"accept": ".ics,text/calendar"}),
        max_length=200,
    )

    def clean_file(self) -> UploadedFile[bytes]:
        """Refuse what is larger than can be read."""
        file: UploadedFile[bytes] = self.cleaned_data["file"]
        if file.size is None or file.size > MOST_BYTES:
            raise forms.ValidationError(
                "This file is larger than 1 MB. Export a shorter time, or only the calendar you need."
            )
        return file


class AddressForm(forms.Form):
    """The address of a calendar that is read again and again."""

    address = forms.CharField(
        label="Address of the calendar",
        max_length=LONGEST_ADDRESS,
        # Not an address of a page: calendar programs also write webcal://.
        widget=forms.TextInput(attrs={"inputmode": "url", "autocomplete": "off", "spellcheck": "false"}),
        help_text="It begins with https:// or webcal://. Your calendar program shows it under “share” or “publish”.",
    )
