"""What every template may use without loading it."""

from __future__ import annotations

from django import template
from django.template.defaultfilters import stringfilter

from kitchen.language.said import said as say

register = template.Library()


@register.filter
@stringfilter
def said(words: str) -> str:
    """Words of the program in the reader's language."""
    return say(words)
