"""The cards of the live pages, each written once while all on it is as it is: what comes next, and the presses."""

from __future__ import annotations

from collections.abc import Sequence

from django.http import HttpRequest
from django.middleware.csrf import get_token
from django.utils.safestring import SafeString

from kitchen.floor.pages import CannerPage, Card
from kitchen.floor.sheet_piece import event_facts, sheet_facts
from kitchen.language.pieces import columns_of, kept_forms
from kitchen.members.models import User
from kitchen.planning.models import HarvestDay


def written_cards(
    request: HttpRequest, day: HarvestDay, pages: Sequence[CannerPage], me: User, **rest: bool
) -> list[SafeString]:
    """The card of each canner. ``rest`` are what else the template asks: rights, units, and which page it is."""
    secret = get_token(request)
    return [_written(secret, day, page, me, rest) for page in pages]


def _written(secret: str, day: HarvestDay, page: CannerPage, me: User, rest: dict[str, bool]) -> SafeString:
    kitchen, card = day.kitchen, page.card
    facts = (
        kitchen.slug,
        day.uuid,
        columns_of(page.canner),
        bool(page.loads),
        me.uuid,
        sorted(rest.items()),
        card and _facts(card),
    )
    shown = {
        "kitchen": kitchen,
        "day": day,
        "page": page,
        "canner": page.canner,
        "card": card,
        "load": card and card.load,
        "sheet": card and card.sheet,
        "me": me,
        **rest,
    }
    return kept_forms(secret, "floor/card.html", facts, lambda: shown, kitchen.zone)


def _facts(card: Card) -> tuple[object, ...]:
    """All that the card tells, with all that its sheet was made from: what the clock changes is told by the times."""
    return (
        sheet_facts(card.sheet),
        card.seen,
        str(card.headline),
        card.step,
        card.steps,
        card.wait,
        card.is_due,
        card.is_lost,
        card.since,
        card.expected,
        card.mishap,
        [one.pk for one in card.watching],
        card.relief and card.relief.pk,
        card.picture,
        card.hand_over and event_facts(card.hand_over),
        card.both_until,
        [(one.uuid, str(one)) for one in card.takers],
    )
