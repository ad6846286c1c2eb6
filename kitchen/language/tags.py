"""What every template may use without loading it."""

from __future__ import annotations

from django import template
from django.template.defaultfilters import stringfilter

from kitchen.language.said import said as say
from kitchen.language.said import said_in_markup

register = template.Library()


@register.filter
@stringfilter
def said(words: str) -> str:
    """Words of the program in the reader's language."""
    return say(words)


@register.filter
@stringfilter
def said_drawing(markup: str) -> str:
    """A drawing of the program's own with its words in the reader's language; it is safe where it was."""
    return said_in_markup(markup)
