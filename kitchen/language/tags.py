"""What every template may use without loading it."""

from __future__ import annotations

from django import template
from django.template.defaultfilters import stringfilter

from kitchen.language.said import said as say
from kitchen.language.said import said_in_markup
from kitchen.language.units import with_metric

register = template.Library()


@register.filter
@stringfilter
def said(words: str) -> str:
    """Words of the program in the reader's language, their amounts in the reader's units too."""
    return with_metric(say(words))


@register.filter
@stringfilter
def measured(words: str) -> str:
    """Words that are in the reader's language already, their amounts in the reader's units too."""
    return with_metric(words)


@register.filter
def pressure(psi: float) -> str:
    """A gauge's pressure, as it is printed on the gauge and in the reader's units: ``12 lb``."""
    return with_metric(f"{psi:g} lb")


@register.filter
def fahrenheit(degrees: float) -> str:
    """A temperature as it is kept, and in the reader's units: ``140 °F``."""
    return with_metric(f"{degrees:g} °F")


@register.filter
@stringfilter
def said_drawing(markup: str) -> str:
    """A drawing of the program's own with its words in the reader's language; it is safe where it was."""
    return said_in_markup(markup)
