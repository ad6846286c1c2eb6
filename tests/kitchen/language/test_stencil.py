"""Templates rendered once and filled in give what rendering them each time gives."""

from __future__ import annotations

from dataclasses import fields

import pytest
from django.template.loader import render_to_string
from django.utils import translation
from hypothesis import given
from hypothesis import strategies as st

from kitchen.language.stencil import Values, filled
from kitchen.reminders.words import NewsWords, Words

TEMPLATES = {"reminders/message": Words, "reminders/news": NewsWords}
TEXT = st.text(max_size=12) | st.sampled_from(["", "<b>&'\"", "%(hold)s {1}", "{{ words }}", "\ue1000\ue101"])


def values_of(words: type[Words | NewsWords]) -> st.SearchStrategy[Values]:
    kinds = {
        one.name: st.lists(TEXT, max_size=3).map(tuple) if "tuple" in str(one.type) else TEXT
        for one in fields(words)
    }
    return st.fixed_dictionaries({**kinds, "kitchen": TEXT})


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("ending", ["txt", "html"])
@pytest.mark.parametrize("name", TEMPLATES)
@given(data=st.data())
def test_filled_is_rendered(name: str, ending: str, language: str, data: st.DataObject) -> None:
    values = data.draw(values_of(TEMPLATES[name]))
    template = f"{name}.{ending}"
    with translation.override(language):
        assert filled(template, values) == render_to_string(template, {"words": values})
