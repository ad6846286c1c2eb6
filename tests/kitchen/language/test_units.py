"""US and metric figures, there and back, against a library of units; and what a reader of metric units sees."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitchen.batches.forms import IntakeForm
from kitchen.language.person import written_for
from kitchen.language.units import (
    ALTITUDE,
    AREA,
    LENGTH,
    PRESSURE,
    TEMPERATURE,
    VOLUME,
    WEIGHT,
    Measure,
    kilograms_as_pounds,
    with_metric,
)

UNITS: pint.UnitRegistry[float] = pint.UnitRegistry()
PAIRS = [
    pytest.param(LENGTH, "inch", "cm", id="inches"),
    pytest.param(AREA, "inch ** 2", "cm ** 2", id="square inches"),
    pytest.param(ALTITUDE, "foot", "m", id="feet"),
    pytest.param(WEIGHT, "pound", "kg", id="pounds"),
    pytest.param(VOLUME, "quart", "liter", id="quarts"),
    pytest.param(TEMPERATURE, "degF", "degC", id="degrees"),
    pytest.param(PRESSURE, "psi", "kPa", id="pressure"),
]


@pytest.mark.parametrize(("measure", "us", "metric"), PAIRS)
@given(figure=st.floats(min_value=0.01, max_value=9000))
def test_a_figure_is_what_the_library_makes_of_it_and_comes_back(
    measure: Measure, us: str, metric: str, figure: float
) -> None:
    there = float(measure.to_metric(figure))
    assert there == pytest.approx(UNITS.Quantity(figure, us).to(metric).magnitude, rel=1e-9, abs=1e-9)
    assert float(measure.from_metric(there)) == pytest.approx(figure, rel=1e-9, abs=1e-9)
    assert measure.from_metric(measure.to_metric(figure)) == Fraction(figure)


@given(pounds=st.integers(min_value=1, max_value=200).map(lambda tenths: Fraction(tenths, 10)))
def test_a_pressure_is_never_shown_smaller_than_it_was_tested(pounds: Fraction) -> None:
    shown = PRESSURE.words(pounds).partition("\N{NO-BREAK SPACE}")[0]
    assert PRESSURE.from_metric(Fraction(shown)) >= pounds


@given(kilograms=st.integers(min_value=1, max_value=99_999).map(lambda grams: Decimal(grams) / 100))
def test_kilograms_that_were_typed_come_back(kilograms: Decimal) -> None:
    stored = kilograms_as_pounds(kilograms)
    assert stored == round(stored, 2)
    assert round(float(WEIGHT.to_metric(stored)), 2) == pytest.approx(float(kilograms))


@pytest.mark.parametrize(
    ("printed", "shown"),
    [
        ("12 lb for 25 min", "12 lb (83 kPa) for 25 min"),
        ("12.5 lb on this gauge", "12.5 lb (87 kPa) on this gauge"),
        ("Headspace 1/2 in.", "Headspace 1/2 in (1.3 cm)."),
        ("leave 1½ inches of headspace", "leave 1½ inches (3.8 cm) of headspace"),
        ("1 1/4 in", "1 1/4 in (3.2 cm)"),
        ("2 to 3 in of hot water", "2 to 3 in (5.1 to 7.6 cm) of hot water"),
        ("2 a 3 pulgadas de agua", "2 a 3 pulgadas (5.1 a 7.6 cm) de agua"),
        ("an altitude of 2,450 ft", "an altitude of 2,450 ft (747 m)"),
        ("one more kettle of 20 quarts", "one more kettle of 20 quarts (18.9 L)"),
        ("44.09 pounds", "44.09 pounds (20 kg)"),
        ("180 °F", "180 °F (82 °C)"),
        ("400 square inches", "400 square inches (2581 cm²)"),
        # Jars, processes and codes keep their names.
        ("7 quart jars", "7 quart jars"),
        ("fewer than 2 quarts or 4 pints", "fewer than 2 quarts or 4 pints"),
        ("from 09:00 in Canner 2 in the yard", "from 09:00 in Canner 2 in the yard"),
        ("50 to 70 F (10 to 21 C)", "50 to 70 F (10 to 21 C)"),
        ("3 of 7 in W1", "3 of 7 in W1"),
    ],
)
def test_what_is_printed_stays_and_stands_first(printed: str, shown: str) -> None:
    with written_for("en", "metric"):
        assert with_metric(printed).replace("\N{NO-BREAK SPACE}", " ") == shown
    with written_for("en", "us"):
        assert with_metric(printed) == printed


def test_a_member_brings_kilograms_and_they_are_kept_as_pounds() -> None:
    given = {"food": "apples_sliced", "amount": "20", "unit": "kilograms", "jar": "quart", "pack": "hot"}
    given |= {"arrives": "09:00", "picks_up": "16:00"}
    with written_for("es", "metric"):
        form = IntakeForm(given)
        assert form.is_valid(), form.errors
    assert (form.cleaned_data["unit"], form.cleaned_data["amount"]) == ("pounds", Decimal("44.09"))
    with written_for("es", "us"):
        assert "unit" in IntakeForm(given).errors
