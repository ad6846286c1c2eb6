"""What a card says in large letters: the one thing to do now."""

from __future__ import annotations

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from kitchen.equipment.models import Canner, CannerKind
from kitchen.floor.models import EventKind

# What leads to each step, once it may come.
_TO_DO: dict[EventKind, Promise] = {
    EventKind.LOADED: _("Load the jars, then heat on"),
    EventKind.STEADY_STEAM: _("Heat up until steam flows steadily"),
    EventKind.WEIGHT_ON: _("Vented. Put the weight on"),
    EventKind.AT_PRESSURE: _("Bring it to pressure"),
    EventKind.FULL_BOIL: _("Heat up to a full boil"),
    EventKind.HEAT_OFF: _("Time is up. Heat off"),
    EventKind.ZERO_PRESSURE: _("Let it come to zero pressure by itself"),
    EventKind.LID_OFF: _("Take the lid off"),
    EventKind.JARS_OUT: _("Take the jars out"),
}
# What to do while it may not come yet.
_MEANWHILE: dict[EventKind, Promise] = {
    EventKind.WEIGHT_ON: _("Let it vent"),
    EventKind.HEAT_OFF: _("Keep it boiling"),
    EventKind.ZERO_PRESSURE: _("Leave it alone to cool"),
    EventKind.LID_OFF: _("Weight off. The lid stays on"),
    EventKind.JARS_OUT: _("Leave the jars in to rest"),
}
_STEAM = {
    EventKind.FULL_BOIL: _("Heat up to a full column of steam"),
    EventKind.HEAT_OFF: _("Keep it steaming"),
}


def headline(canner: Canner, step: EventKind, *, is_due: bool, is_lost: bool) -> Promise:
    """What to do now at this canner, with ``step`` to come: at once, or after a wait."""
    if is_lost:
        return (
            _("Pressure is lost. Bring it back")
            if canner.is_pressure
            else _("The boil is lost. Bring it back")
        )
    if not is_due and canner.is_pressure and step is EventKind.HEAT_OFF:
        return _("Hold the pressure")
    if canner.kind == CannerKind.STEAM and (step is EventKind.FULL_BOIL or not is_due) and step in _STEAM:
        return _STEAM[step]
    return _TO_DO[step] if is_due else _MEANWHILE[step]
