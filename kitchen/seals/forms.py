"""The seal check: three counts."""

from __future__ import annotations

from django import forms

from kitchen.planning.models import LoadPortion


class SealCheckForm(forms.Form):
    """How many jars are sealed, unsealed and broken."""

    sealed = forms.IntegerField(label="Sealed", min_value=0)
    unsealed = forms.IntegerField(label="Not sealed, or doubtful", min_value=0, initial=0)
    broken = forms.IntegerField(label="Broken", min_value=0, initial=0)

    @staticmethod
    def for_portion(portion: LoadPortion) -> dict[str, int]:
        """The usual case, to be corrected: every jar sealed."""
        return {"sealed": portion.jars}
