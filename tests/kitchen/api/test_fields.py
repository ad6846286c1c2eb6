"""What is sent can name rows of its own kitchen only: every serializer is looked through."""

from __future__ import annotations

from collections.abc import Iterator
from importlib import import_module
from pkgutil import iter_modules
from typing import Any

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.urls import get_resolver
from django.urls.resolvers import URLPattern, URLResolver
from rest_framework import serializers

import kitchen.api.v1
from kitchen.api.base.access import KitchenView
from kitchen.api.base.fields import Given, RowHere, Shown
from kitchen.members.models import User

MODULES = [import_module(f"kitchen.api.v1.{one.name}") for one in iter_modules(kitchen.api.v1.__path__)]


def below(kind: type[Any]) -> Iterator[type[Any]]:
    """Every class below one, of the API's own."""
    for one in kind.__subclasses__():
        if one.__module__.startswith("kitchen.api.v1") or one.__module__.endswith("schema"):
            yield one
        yield from below(one)


def fields_of(serializer: serializers.BaseSerializer[Any]) -> Iterator[tuple[str, Any]]:
    """Every field, through every serializer within."""
    inner = getattr(serializer, "child", serializer)
    for name, field in getattr(inner, "fields", {}).items():
        yield f"{type(inner).__name__}.{name}", field
        if isinstance(field, serializers.BaseSerializer):
            yield from fields_of(field)


def every_serializer() -> list[type[serializers.BaseSerializer[Any]]]:
    return sorted(set(below(serializers.BaseSerializer)), key=lambda one: one.__name__)


def test_every_related_field_is_limited_to_its_kitchen() -> None:
    found = [(name, field) for one in every_serializer() for name, field in fields_of(one())]
    assert len(found) > 150
    related = {
        name: field
        for name, field in found
        if isinstance(field, serializers.RelatedField | serializers.ManyRelatedField)
    }
    assert {name for name, field in related.items() if not isinstance(field, RowHere)} == set()
    assert len(related) >= 8


def test_whatever_is_told_of_rows_is_never_written() -> None:
    for one in set(below(Shown)):
        assert not [name for name, field in one().fields.items() if not field.read_only], one


def test_what_is_sent_and_what_is_told_are_different_classes() -> None:
    """No serializer of rows takes anything, so none can name a row by the way."""
    models = {one for one in every_serializer() if issubclass(one, serializers.ModelSerializer)}
    assert all(issubclass(one, Shown) for one in models)


class Careless(Given):
    who = serializers.PrimaryKeyRelatedField(queryset=User.objects.all())


class CarelessMany(Given):
    who = serializers.PrimaryKeyRelatedField(queryset=User.objects.all(), many=True)


@pytest.mark.parametrize("form", [Careless, CarelessMany])
def test_a_field_without_its_limit_does_not_start(form: type[Given]) -> None:
    with pytest.raises(ImproperlyConfigured, match="who is not limited"):
        _ = form().fields


def views() -> Iterator[tuple[str, Any]]:
    """Every address below the API with the class behind it."""

    def walk(patterns: list[URLPattern | URLResolver], before: str) -> Iterator[tuple[str, Any]]:
        for one in patterns:
            here = before + str(one.pattern)
            if isinstance(one, URLResolver):
                yield from walk(one.url_patterns, here)
            elif here.startswith("api/v1/") and hasattr(one.callback, "cls"):
                yield here, one.callback

    return walk(get_resolver().url_patterns, "")


def test_whatever_lies_below_a_kitchen_settles_who_asks() -> None:
    below_a_kitchen = {address: view.cls for address, view in views() if "<uuid:kitchen>" in address}
    assert len(below_a_kitchen) > 40
    for address, kind in below_a_kitchen.items():
        assert issubclass(kind, KitchenView), address
        assert kind.initial is KitchenView.initial, address
        assert kind.get_queryset is KitchenView.get_queryset, address


def test_every_operation_says_what_it_needs() -> None:
    for address, view in views():
        if issubclass(view.cls, KitchenView):
            assert set(view.actions.values()) <= set(view.cls.needs), address
