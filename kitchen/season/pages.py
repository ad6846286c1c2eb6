"""A season as drawings, each with the figures it was drawn from beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.dates import MONTHS, MONTHS_3
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitchen.language.said import said
from kitchen.season.drawing import Bar, Chart, only
from kitchen.season.queries import OTHER_RULE, Seals, Season

_MOST_BARS = 12
"""More foods than these stand in the table only."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """A drawing and its table: headings, then lines whose first cell names the line. ``none`` is said without lines."""

    key: str
    title: str
    svg: str
    headings: tuple[str, ...]
    lines: tuple[tuple[str, ...], ...]
    none: str


def panels_of(season: Season) -> list[Panel]:
    """The four drawings of a season."""
    return [_foods(season), _canners(season), _seals(season), _deviations(season)]


def percent(seals: Seals) -> str:
    """Of a hundred checked jars so many sealed, to a tenth; a dash when none was checked."""
    return "\N{EN DASH}" if seals.percent_sealed is None else f"{seals.percent_sealed:.1f}\N{NO-BREAK SPACE}%"


def _foods(season: Season) -> Panel:
    foods = season.foods
    shown = [(f"{one.jars} {said(one.food)}", float(one.jars)) for one in foods[:_MOST_BARS]]
    return _panel(
        key="foods",
        title=_("Jars by food"),
        description=_("One bar for each food, the most jars on top."),
        bars=only(shown),
        headings=(_("Food"), _("Jars out"), _("Sealed")),
        lines=[(said(one.food), str(one.jars), percent(one.seals)) for one in foods],
        none=_("No jar has come out of a canner in this year."),
    )


def _canners(season: Season) -> Panel:
    used = [one for one in season.canners if one.hours or one.loads]
    return _panel(
        key="canners",
        title=_("Hours at the canners"),
        description=_("One bar for each canner: how long it was taken for loads and for members' bookings."),
        bars=only(
            [
                (_("%(name)s: %(hours).1f h") % {"name": one.name, "hours": one.hours}, one.hours)
                for one in used
            ]
        ),
        headings=(_("Canner"), _("Hours taken"), _("Loads out")),
        lines=[(one.name, f"{one.hours:.1f}", str(one.loads)) for one in season.canners],
        none=_("No canner has been taken in this year."),
    )


def _seals(season: Season) -> Panel:
    bars = tuple(
        Bar(
            words=_("%(month)s: %(percent)s sealed of %(jars)d")
            % {"month": MONTHS[month], "percent": percent(seals), "jars": seals.checked},
            parts=tuple(100 * part / seals.checked for part in (seals.sealed, seals.unsealed, seals.broken)),
        )
        for month, seals in season.months
        if seals.checked
    )
    return _panel(
        key="seals",
        title=_("Seals, month by month"),
        description=_(
            "One bar for each month: of a hundred checked jars so many sealed, did not seal, or broke."
        ),
        bars=bars,
        legend=(_("sealed"), _("not sealed"), _("broken")),
        most=100,
        headings=(_("Month"), _("Sealed"), _("Not sealed"), _("Broken"), "%"),
        lines=[
            (
                str(MONTHS_3[month]).capitalize(),
                str(one.sealed),
                str(one.unsealed),
                str(one.broken),
                percent(one),
            )
            for month, one in season.months
        ],
        none=_("No seal has been checked in this year."),
    )


def _deviations(season: Season) -> Panel:
    named = [(_rule(rule), many) for rule, many in season.deviations]
    return _panel(
        key="deviations",
        title=_("Deviations by rule"),
        description=_("One bar for each rule that was broken: in how many loads."),
        bars=only([(f"{rule}: {many}", float(many)) for rule, many in named]),
        headings=(_("Rule"), _("Loads")),
        lines=[(rule, str(many)) for rule, many in named],
        none=_("No deviation has been recorded in this year."),
    )


def _rule(rule: str) -> str:
    return _("No rule named") if rule == OTHER_RULE else _rule_words().get(rule, rule)


def _rule_words() -> dict[str, str]:
    return {
        "S1": _("Process out of date (S1)"),
        "S4": _("A phase too short or skipped (S4)"),
        "S5": _("Cool-down shortened (S5)"),
        "S6": _("Time or pressure below the process (S6)"),
        "S8": _("Canner out of service (S8)"),
        "S10": _("Filled jars waited too long (S10)"),
        "S11": _("Processed again too late (S11)"),
    }


def summary_of(season: Season) -> str:
    """The year in a sentence."""
    jars = ngettext("%(count)d jar", "%(count)d jars", season.jars) % {"count": season.jars}
    loads = ngettext("%(count)d load", "%(count)d loads", season.loads) % {"count": season.loads}
    return _(
        "%(jars)s in %(loads)s; of the jars checked %(percent)s sealed; %(deviations)d with a deviation."
    ) % {
        "jars": jars,
        "loads": loads,
        "percent": percent(season.seals),
        "deviations": season.loads_with_deviation,
    }


def _panel(
    *,
    key: str,
    title: str,
    description: str,
    bars: tuple[Bar, ...],
    headings: tuple[str, ...],
    lines: Sequence[tuple[str, ...]],
    none: str,
    legend: tuple[str, ...] = (),
    most: float | None = None,
) -> Panel:
    chart = Chart(key=key, title=title, description=description, bars=bars, legend=legend, most=most)
    return Panel(
        key=key,
        title=title,
        svg=chart.svg if bars else "",
        headings=headings,
        lines=tuple(lines),
        none=none,
    )
