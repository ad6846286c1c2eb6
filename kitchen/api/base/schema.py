"""What the schema says beside what the views say themselves: refusals, keys, versions and tokens."""

from __future__ import annotations

from typing import Any  # A schema is a tree of any depth.

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema
from rest_framework import serializers

from kitchen.api.base.access import KitchenView, Need
from kitchen.api.base.problems import MEDIA_TYPE, title_of
from kitchen.api.models import Scope

_ALWAYS = (400, 404, 406, 429)
_SIGNED_IN = (401, 403)
_REFUSED = (409, 422)
_WITH_BODY = (409, 410, 413, 415, 422)
_VERSIONED = (409, 410, 412, 422, 428)


def without_limits_of_the_database(result: dict[str, Any], **_: object) -> dict[str, Any]:
    """How large a whole number a column holds is no promise to anybody, and another on each database."""
    for schema in result["components"]["schemas"].values():
        for field in schema.get("properties", {}).values():
            if field.get("readOnly") and field.get("type") == "integer":
                for limit in ("minimum", "maximum", "format"):
                    field.pop(limit, None)
    return result


def with_refusals(result: dict[str, Any], **_: object) -> dict[str, Any]:
    """Says once what each refusal looks like; operations point there."""
    problem = {"$ref": "#/components/schemas/Problem"}
    every = sorted({*_ALWAYS, *_SIGNED_IN, *_WITH_BODY, *_VERSIONED})
    result["components"]["responses"] = {
        _name(status): {"description": title_of(status), "content": {MEDIA_TYPE: {"schema": problem}}}
        for status in every
    }
    return result


def _name(status: int) -> str:
    return title_of(status).replace(" ", "")


class Wrong(serializers.Serializer[Any]):
    """One thing that is wrong with a request, and where: ``#/`` and a path into the body, or ``?`` and a parameter."""

    pointer = serializers.CharField()
    code = serializers.CharField()
    detail = serializers.CharField()


class Problem(serializers.Serializer[Any]):
    """A refusal (RFC 9457). ``code`` is for programs, ``detail`` for people; some carry more that helps."""

    type = serializers.URLField()
    title = serializers.CharField()
    status = serializers.IntegerField()
    code = serializers.CharField()
    detail = serializers.CharField()
    instance = serializers.CharField()
    errors = Wrong(many=True)  # type: ignore[assignment]  # As the standard calls it.


class TokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]  # Registers itself.
    """How a token is sent."""

    target_class = "kitchen.api.base.authentication.TokenAuthentication"
    name = "token"

    def get_security_definition(self, auto_schema: AutoSchema) -> dict[str, Any]:
        """The header ``Authorization: Bearer``."""
        return {"type": "http", "scheme": "bearer", "description": "A token, made on the page of tokens."}


class KitchenSchema(AutoSchema):
    """An operation with all that may be refused and every header that it takes."""

    def get_operation(self, *args: Any, **kwargs: Any) -> dict[str, Any] | None:
        """The operation, None for one that is left out."""
        operation: dict[str, Any] | None = super().get_operation(*args, **kwargs)
        if operation is None:
            return None
        need = self._need()
        for header, told in self._headers(need):
            operation.setdefault("parameters", []).append(
                {"in": "header", "name": header, "schema": {"type": "string", "maxLength": 200}, **told}
            )
        self.resolve_serializer(Problem, "response")
        for status in self._refusals(operation, need):
            operation["responses"][str(status)] = {"$ref": f"#/components/responses/{_name(status)}"}
        return operation

    def get_tags(self) -> list[str]:
        """By the module in which it stands: one tag for a kind of thing."""
        return [type(self.view).__module__.rpartition(".")[2]]

    def _need(self) -> Need | None:
        if not isinstance(self.view, KitchenView):
            return None
        return self.view.needs[str(self.view.action)]

    def _headers(self, need: Need | None) -> list[tuple[str, dict[str, Any]]]:
        if need is None:
            return []
        headers: list[tuple[str, dict[str, Any]]] = []
        if need.keyed:
            told = "A new random value for each request; the same again when the request is tried again."
            headers.append(("Idempotency-Key", {"required": True, "description": told}))
        if need.versioned:
            told = "The ETag of what the change was decided on."
            headers.append(("If-Match", {"required": True, "description": told}))
        return headers

    def _refusals(self, operation: dict[str, Any], need: Need | None) -> list[int]:
        statuses = {*_ALWAYS}
        if "security" not in operation or {} not in operation["security"]:
            statuses |= {*_SIGNED_IN}
        if self.method != "GET":
            statuses |= {*_WITH_BODY}
        elif any(one["in"] == "query" and one.get("required") for one in operation.get("parameters", [])):
            statuses |= {*_REFUSED}  # It answers a question, which the kitchen may refuse.
        if need is not None and need.versioned:
            statuses |= {*_VERSIONED}
        return sorted(statuses - {int(code) for code in operation["responses"] if code.isdigit()})

    def get_description(self) -> str:  # type: ignore[override]  # As the library's own class has it.
        """The operation's own words, with the deed and the scope that it needs."""
        words, need = super().get_description(), self._need()
        if need is None:
            return str(words)
        return f"{words}\n\nFor whoever may {need.deed.value}; a token needs the scope `{Scope(need.scope).value}`."
