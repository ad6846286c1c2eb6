"""A day as the text of a day file, the other way round from ``day_file``: what is read back is the same day."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from datetime import date

from scheduler.canner import Canner
from scheduler.interval import Span, subtract
from scheduler.problem import Batch, CoolingTable, Day, Person, Policy, Station
from scheduler.wall_clock import WallClock, wall_clock

Tables = Mapping[str, object]
"""The tables of a day file as plain values: text, numbers, dates, lists and tables of these."""


def day_toml(day: Day) -> str:
    """The text of a file from which ``read_day`` makes this day.

    Jars are counted and work is given for each batch, so nothing depends on the published yields or the usual work.
    """
    return toml_text(tables_of(day))


def tables_of(day: Day) -> dict[str, object]:
    """The tables of that file."""
    clock = wall_clock(day.date, day.time_zone)
    return {
        "kitchen": {
            "name": day.kitchen,
            "altitude_ft": day.altitude_ft,
            "time_zone": day.time_zone,
            "date": day.date,
            "hours": _spans(day.opening, clock),
        },
        "policy": _policy(day.policy, clock),
        "burner": [
            {"id": one.id, "name": one.name, "power_w": one.power_w, "efficiency": one.efficiency}
            for one in day.burners
        ],
        "canner": [_canner(one, day, clock) for one in day.canners],
        "kettle": [
            _without_none(id=one.id, name=one.name, volume_qt=one.volume_qt, burner=one.burner_id)
            for one in day.kettles
        ],
        "station": [_station(one, clock) for one in day.stations],
        "table": [_table(one, clock) for one in day.tables],
        "person": [_person(one, clock) for one in day.people],
        "batch": [_batch(one, clock) for one in day.batches],
    }


def toml_text(tables: Tables) -> str:
    """The tables as TOML: single tables first as they come, lists of tables as ``[[name]]``."""
    parts: list[str] = []
    for name, content in tables.items():
        if isinstance(content, list):
            parts += [_section(f"[[{name}]]", entry) for entry in content]
        elif isinstance(content, dict) and content:
            parts.append(_section(f"[{name}]", content))
    return "\n\n".join(parts) + "\n"


def toml_value(value: object) -> str:
    """One value as TOML writes it on one line."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, list):
        return f"[{', '.join(map(toml_value, value))}]"
    if isinstance(value, dict):
        return f"{{ {', '.join(f'{key} = {toml_value(one)}' for key, one in value.items())} }}"
    raise TypeError(f"a day file holds no {type(value).__name__}")


def spans_toml(spans: Iterable[Span], clock: WallClock) -> str:
    """A list of spans, ``[{ from = "08:00", to = "12:00" }]``."""
    return toml_value(_spans(spans, clock))


def _section(head: str, content: Mapping[str, object]) -> str:
    return "\n".join([head, *(f"{key} = {toml_value(value)}" for key, value in content.items())])


def _without_none(**values: object) -> dict[str, object]:
    return {key: value for key, value in values.items() if value is not None}


def _spans(spans: Iterable[Span], clock: WallClock) -> list[dict[str, object]]:
    return [{"from": clock.written(span.start), "to": clock.written(span.end)} for span in spans]


def _policy(policy: Policy, clock: WallClock) -> dict[str, object]:
    cut_off = policy.meat_cut_off
    return _without_none(
        canners_per_person=policy.canners_per_person,
        fill_wait_limit_minutes=policy.fill_wait_limit_minutes,
        cool_down_minutes=policy.cool_down_minutes,
        share_under_longest=policy.share_under_longest,
        cleaning_minutes=policy.cleaning_minutes,
        cooling_stand_minutes=policy.cooling_stand_minutes,
        meat_cut_off=None if cut_off is None else clock.written(cut_off),
        loading_minutes=policy.loading_minutes,
        unloading_minutes=policy.unloading_minutes,
        prep_hands=policy.prep_hands,
        fill_hands=policy.fill_hands,
        fill_pace=policy.fill_pace,
        break_minutes=policy.break_minutes,
        break_every_minutes=policy.break_every_minutes,
        meal_minutes=policy.meal_minutes,
        meal_after_minutes=policy.meal_after_minutes,
        longest_shift_minutes=policy.longest_shift_minutes,
        rest_minutes=policy.rest_minutes,
        walking_minutes=policy.walking_minutes,
        confirmed_processes=sorted(policy.confirmed_processes),
    )


def _canner(canner: Canner, day: Day, clock: WallClock) -> dict[str, object]:
    return _without_none(
        id=canner.id,
        name=canner.name,
        kind=canner.kind.value,
        inside_diameter_in=canner.inside_diameter_in,
        inside_depth_in=canner.inside_depth_in,
        burner=canner.burner_id,
        layers=canner.layers,
        own_counts={jar.value: count for jar, count in canner.own_counts.items()} or None,
        heavy_walled=canner.heavy_walled,
        gauge_checked_on=canner.gauge_checked_on,
        gauge_error_psi=canner.gauge_error_psi,
        water_l=canner.water_l,
        empty_mass_kg=canner.empty_mass_kg,
        own_heat_up_minutes=canner.own_heat_up_minutes,
        own_pressure_up_minutes=canner.own_pressure_up_minutes,
        own_cool_down_minutes={jar.value: minutes for jar, minutes in canner.own_cool_down_minutes.items()}
        or None,
        pace={
            "heat_up": canner.pace.heat_up,
            "pressure_up": canner.pace.pressure_up,
            "cool_down": canner.pace.cool_down,
        },
        out_of_service=_spans(subtract(day.opening, canner.service), clock) or None,
    )


def _station(station: Station, clock: WallClock) -> dict[str, object]:
    hours: list[dict[str, object]] = [
        {"from": clock.written(one.span.start), "to": clock.written(one.span.end), "hands": one.count}
        for one in station.hands
    ]
    return {"kind": station.kind.value, "hours": hours}


def _table(table: CoolingTable, clock: WallClock) -> dict[str, object]:
    taken: list[dict[str, object]] = [
        {
            "from": clock.written(use.span.start),
            "to": clock.written(use.span.end),
            "area_sq_in": use.area_sq_in,
        }
        for use in table.taken
    ]
    return _without_none(id=table.id, name=table.name, area_sq_in=table.area_sq_in, taken=taken or None)


def _person(person: Person, clock: WallClock) -> dict[str, object]:
    return _without_none(
        id=person.id,
        name=person.name,
        hours=_spans(person.hours, clock),
        trained=person.trained,
        under_16=person.under_16,
        learning=person.learning or None,
        cannot=sorted(one.value for one in person.cannot) or None,
        likes=sorted(one.value for one in person.likes) or None,
        most_minutes=person.most_minutes,
        comes_with=person.comes_with,
        carried_minutes=person.carried_minutes or None,
    )


def _batch(batch: Batch, clock: WallClock) -> dict[str, object]:
    return {
        "id": batch.id,
        "member": batch.member,
        "food": batch.food_id,
        "pack": batch.pack.value,
        "jar": batch.jar.value,
        "amount": batch.jars,
        "unit": "jars",
        "arrives": clock.written(batch.arrival),
        "pickup": clock.written(batch.pickup),
        "prep_person_minutes_per_jar": batch.prep_person_minutes_per_jar,
        "kettle_minutes": batch.kettle_minutes,
    }
