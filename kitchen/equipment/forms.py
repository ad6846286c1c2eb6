"""What a lead says about the equipment, in the words that stand on it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any  # A form takes what was sent as it came.

from django import forms

from kitchen.equipment.bridge import EFFICIENCIES, GAS_CEILING_W, jar_sizes
from kitchen.equipment.models import Burner, Canner, CannerKind, CoolingTable, Kettle
from kitchen.members.models import Kitchen

if TYPE_CHECKING:
    _Burners = forms.ModelChoiceField[Burner]
else:
    _Burners = forms.ModelChoiceField

_WORDS = {"gas": "A gas flame", "electric": "An electric plate", "induction": "An induction plate"}


class BurnerForm(forms.Form):
    """A source of heat."""

    name = forms.CharField(label="Name", max_length=40)
    power_w = forms.IntegerField(
        label="Power, watts",
        min_value=1,
        help_text=f"From the burner's plate; 12,000 BTU/h are {GAS_CEILING_W} W.",
    )
    efficiency = forms.TypedChoiceField(
        label="Heated by", coerce=float, help_text="Of gas the least heat reaches the pot. Unsure: take gas."
    )

    def __init__(self, *args: Any, kitchen: Kitchen, row: Burner | None = None, **more: Any) -> None:
        del kitchen
        if row is not None:
            more["initial"] = {name: getattr(row, name) for name in ("name", "power_w", "efficiency")}
        super().__init__(*args, **more)
        known = [(share, _WORDS[heat]) for heat, share in EFFICIENCIES]
        if row is not None and row.efficiency not in dict(known):
            known.append((row.efficiency, f"{row.efficiency:.0%} of its heat, as noted before"))
        self.fields["efficiency"].choices = known  # type: ignore[attr-defined]  # a choice field


class KettleForm(forms.Form):
    """A pot for hot pack."""

    name = forms.CharField(label="Name", max_length=40)
    volume_qt = forms.FloatField(
        label="Holds while cooking, quarts", min_value=0.1, help_text="Not to the brim: food foams and spits."
    )
    burner = _Burners(
        label="Burner",
        queryset=Burner.objects.none(),
        required=False,
        empty_label="heats by itself",
        to_field_name="uuid",
    )

    def __init__(self, *args: Any, kitchen: Kitchen, row: Kettle | None = None, **more: Any) -> None:
        if row is not None:
            burner = row.burner and row.burner.uuid
            more["initial"] = {"name": row.name, "volume_qt": row.volume_qt, "burner": burner}
        super().__init__(*args, **more)
        self.fields["burner"].queryset = kitchen.burners.all()  # type: ignore[attr-defined]  # likewise


class TableForm(forms.Form):
    """Where jars cool."""

    name = forms.CharField(label="Name", max_length=40)
    area_sq_in = forms.FloatField(
        label="Area, square inches",
        min_value=1,
        help_text="Length times width, of what jars may stand on, out of draughts.",
    )

    def __init__(self, *args: Any, kitchen: Kitchen, row: CoolingTable | None = None, **more: Any) -> None:
        del kitchen
        if row is not None:
            more["initial"] = {"name": row.name, "area_sq_in": row.area_sq_in}
        super().__init__(*args, **more)


class CannerForm(forms.Form):
    """A vessel: what it is, its inside, its burner; then what the kitchen measured itself."""

    code = forms.CharField(
        label="Code", max_length=4, help_text="One to four capitals or digits: its part of each lot code."
    )
    name = forms.CharField(label="Name", max_length=60)
    kind = forms.ChoiceField(label="Kind", choices=CannerKind)
    burner = _Burners(label="Burner", queryset=Burner.objects.none(), to_field_name="uuid")
    inside_diameter_in = forms.FloatField(label="Inside diameter, inches", min_value=1)
    inside_depth_in = forms.FloatField(
        label="Inside depth, inches", min_value=1, help_text="From the rack to the rim."
    )
    layers = forms.TypedChoiceField(
        label="Layers",
        choices=[(1, "1"), (2, "2")],
        coerce=int,
        help_text="2 only when its manual allows a second layer of jars on a rack between (rule S13).",
    )
    heavy_walled = forms.BooleanField(
        label="Heavy-walled",
        required=False,
        help_text="An old, heavy pressure canner: it cools more slowly (rule S5).",
    )
    water_l = forms.FloatField(
        label="Water it is heated with, litres",
        required=False,
        help_text="Empty: the usual amount of its kind.",
    )
    empty_mass_kg = forms.FloatField(
        label="Weight empty, kilograms", required=False, help_text="Empty: what is usual for its kind."
    )
    own_heat_up_minutes = forms.IntegerField(
        label="Minutes to heat up, as measured here", required=False, min_value=1
    )
    own_pressure_up_minutes = forms.IntegerField(
        label="Minutes from weight on to pressure, as measured here", required=False, min_value=1
    )

    def __init__(self, *args: Any, kitchen: Kitchen, row: Canner | None = None, **more: Any) -> None:
        if row is not None:
            more["initial"] = {name: getattr(row, name) for name in _PLAIN} | {
                "burner": row.burner.uuid,
                **{f"count_{size}": count for size, count in row.own_counts.items()},
                **{f"cool_{size}": minutes for size, minutes in row.own_cool_down_minutes.items()},
            }
        super().__init__(*args, **more)
        self.fields["burner"].queryset = kitchen.burners.all()  # type: ignore[attr-defined]  # likewise
        for size, words in jar_sizes():
            self.fields[f"count_{size}"] = _number(f"{words[:1].upper()}{words[1:]} jars that fit")
        for size, words in jar_sizes():
            self.fields[f"cool_{size}"] = _number(f"Minutes to cool down with {words} jars")

    def first(self) -> Iterator[forms.BoundField]:
        """What every canner has, in the form's order."""
        return (self[name] for name in _FIRST)

    def measured(self) -> Iterator[forms.BoundField]:
        """What the kitchen may have measured itself."""
        return (self[name] for name in self.fields if name not in _FIRST)

    def given(self) -> dict[str, object]:
        """The canner's fields, as ``add_canner`` and ``change_canner`` take them."""
        data = self.cleaned_data
        return {
            **{name: data[name] for name in (*_PLAIN, "burner")},
            "own_counts": self._by_size("count"),
            "own_cool_down_minutes": self._by_size("cool"),
        }

    def _by_size(self, what: str) -> dict[str, int]:
        sizes = (size for size, _ in jar_sizes())
        return {
            size: self.cleaned_data[f"{what}_{size}"]
            for size in sizes
            if self.cleaned_data[f"{what}_{size}"] is not None
        }


_FIRST = (
    "code",
    "name",
    "kind",
    "burner",
    "inside_diameter_in",
    "inside_depth_in",
    "layers",
    "heavy_walled",
)
_PLAIN = (
    "code",
    "name",
    "kind",
    "inside_diameter_in",
    "inside_depth_in",
    "layers",
    "heavy_walled",
    "water_l",
    "empty_mass_kg",
    "own_heat_up_minutes",
    "own_pressure_up_minutes",
)


def _number(label: str) -> forms.IntegerField:
    return forms.IntegerField(label=label, required=False, min_value=1)


class GaugeForm(forms.Form):
    """A dial gauge compared with a master gauge (rule S8)."""

    checked_on = forms.DateField(
        label="Checked on", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    error_psi = forms.DecimalField(
        label="Shows above the true pressure, pounds",
        max_digits=4,
        decimal_places=2,
        help_text="1.5 when it shows 11.5 at a true 10; -0.5 when it shows 9.5. Off by more than 2: replace it.",
    )
    checked_by = forms.CharField(label="Checked by", max_length=80)


class WithdrawForm(forms.Form):
    """Why a canner must not be used."""

    reason = forms.CharField(label="What is wrong with it", max_length=200)
