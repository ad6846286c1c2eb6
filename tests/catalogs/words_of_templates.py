"""What templates ask to have translated, read from the templates as Django itself parses them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from django.template import Node, NodeList, Template
from django.template.engine import Engine
from django.templatetags.i18n import BlockTranslateNode, TranslateNode

from tests.catalogs.words_of_code import PROJECT

TEMPLATES = PROJECT / "kitchen" / "templates"
# Arguments of filters and tags, as in {{ day|date:_("l j F") }}.
_ARGUMENT = re.compile(r'_\("([^"]+)"\)')


@dataclass(frozen=True, slots=True, order=True)
class Message:
    """A text of a template, with its plural and its context where it has them."""

    text: str
    plural: str
    context: str
    template: str


def messages() -> Iterator[Message]:
    """Every text of every template."""
    engine = Engine.get_default()
    for path in sorted([*TEMPLATES.rglob("*.html"), *TEMPLATES.rglob("*.txt"), *TEMPLATES.rglob("*.svg")]):
        name = path.relative_to(TEMPLATES).as_posix()
        source = path.read_text()
        for argument in _ARGUMENT.findall(source):
            yield Message(argument, "", "", name)
        for node in _nodes(Template(source, engine=engine, name=name).nodelist):
            if isinstance(node, TranslateNode):
                literal = node.filter_expression.var
                text = str(getattr(literal, "literal", literal)).replace("%", "%%")  # As Django looks it up.
                yield Message(text, "", _context(node), name)
            elif isinstance(node, BlockTranslateNode):
                singular, _ = node.render_token_list(node.singular)
                plural = node.render_token_list(node.plural)[0] if node.plural else ""
                yield Message(singular, plural, _context(node), name)


def _nodes(nodes: NodeList) -> Iterator[Node]:
    for node in nodes:
        yield node
        for name in node.child_nodelists:
            below: NodeList = getattr(node, name, None) or NodeList()
            yield from _nodes(below)
        for _, branch in getattr(node, "conditions_nodelists", ()):
            yield from _nodes(branch)


def _context(node: TranslateNode | BlockTranslateNode) -> str:
    return "" if node.message_context is None else str(node.message_context.var)
