"""What the run sheet takes from the planner: the picture of the jars in their canner, and the caution."""

from __future__ import annotations

from datetime import date

from kitchen.equipment.bridge import as_canner
from kitchen.planning.models import Load
from scheduler.caution import CAUTION
from scheduler.jars import JarSize
from scheduler.rack import Place
from scheduler.rack_drawing import drawing

__all__ = ["CAUTION", "picture_of"]


def picture_of(load: Load, on: date) -> str:
    """Where each jar of the load stands, as SVG; empty when the plan kept no places."""
    places = tuple(
        Place(
            layer=place["layer"],
            x_in=place["x_in"],
            y_in=place["y_in"],
            diameter_in=place["diameter_in"],
            jar=JarSize(place["jar"]),
        )
        for place in load.places
    )
    return drawing(as_canner(load.canner, on=on, service=()), places) if places else ""
