"""The order that rows have unless a query says otherwise: by columns, never by a relation as a whole.

Django orders by a relation by all that the related rows are ordered by, and joins every table of that to each query.
"""

from __future__ import annotations

from collections.abc import Iterator

from django.apps import apps
from django.db.models import Field, Model


def _ordered_by(model: type[Model]) -> Iterator[tuple[str, Field[object, object]]]:
    for name in model._meta.ordering or ():
        step, found = model, None
        for part in str(name).lstrip("-").split("__"):
            found = step._meta.get_field(part)
            step = getattr(found, "related_model", None) or step
        assert isinstance(found, Field)
        yield str(name), found


def test_no_default_order_is_that_of_a_relation() -> None:
    models = [model for model in apps.get_models() if model.__module__.startswith("kitchen.")]
    assert sum(bool(model._meta.ordering) for model in models) > 30
    relations = [
        f"{model._meta.label}: {name}"
        for model in models
        for name, field in _ordered_by(model)
        if field.is_relation and not name.endswith(field.attname)
    ]
    assert relations == []
