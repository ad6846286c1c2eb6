"""What no day can beat: a proven least value for each level of the objective, with the argument that proves
it.

Every bound here relaxes the question: canners of a group are one big machine that may stop and share jars
freely, everything else is dropped. What even that cannot reach, no plan can.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from scheduler.problem import Batch, Day
from scheduler.search.options import Option, Options
from scheduler.work import prep_minutes


@dataclass(frozen=True, slots=True)
class Bound:
    """The least a level can be, and the name of the argument."""

    value: int
    name: str


@dataclass(frozen=True, slots=True)
class _Need:
    """The least one batch asks of its group of canners."""

    batch: int
    ready: int
    due: int
    jars: int
    canner_minutes_per_jar: float
    watch_minutes_per_jar: float
    most_jars: int
    canners: frozenset[int]
    alone_out: int

    @property
    def work(self) -> float:
        return self.jars * self.canner_minutes_per_jar


def impossible(day: Day, options: Options) -> tuple[int, ...]:
    """The batches none of whose jars can be canned, whatever else is dropped."""
    return tuple(
        number
        for number, row in enumerate(options.by_batch)
        if not row or ready_minutes(day, number) + min(option.minutes for option in row) > day.horizon
    )


def bounds_of(day: Day, options: Options, left_out: int) -> tuple[Bound, ...]:
    """Bounds for the levels in order.

    Below the first they speak of days that leave out no more than they must.

    ``left_out`` is what the plan at hand leaves out: when that is more than proven necessary, another day may
    place other jars, and only 0 is certain for the levels below.
    """
    hopeless = set(impossible(day, options))
    needs = [_need(day, options, n) for n in range(len(day.batches)) if n not in hopeless]
    must_leave = sum(day.batches[number].jars for number in hopeless)
    first = _left_out(day, options, needs, must_leave)
    if left_out > must_leave or not needs:
        nothing = Bound(0, "nothing is certain while jars are left out")
        return (first, nothing, nothing, nothing, nothing, nothing)
    groups = _groups(needs)
    return (
        first,
        _lateness(day, groups),
        _last_out(day, groups),
        Bound(math.ceil(sum(need.work for need in needs) - 1e-6), "each jar's share of a full canner"),
        Bound(_least_loads(groups), "full canners"),
        Bound(0, "none needed"),
    )


def _need(day: Day, options: Options, number: int) -> _Need:
    row = options.by_batch[number]
    room = {option.canner: _room(options, option) for option in row}
    taken = [(option.canner, *_least_minutes(options, option)) for option in row]
    loads: dict[int, tuple[int, int]] = {}
    for canner, minutes, _ in taken:  # A canner may take the batch by several printed lines.
        loads[canner] = min(loads.get(canner, (minutes, room[canner])), (minutes, room[canner]))
    batch = day.batches[number]
    return _Need(
        batch=number,
        ready=ready_minutes(day, number),
        due=batch.pickup,
        jars=batch.jars,
        canner_minutes_per_jar=min(minutes / room[canner] for canner, minutes, _ in taken),
        watch_minutes_per_jar=min(watch / room[canner] for canner, _, watch in taken),
        most_jars=max(room.values()),
        canners=frozenset(option.canner for option in row),
        alone_out=_alone_out(day, number, loads),
    )


def _alone_out(day: Day, number: int, loads: Mapping[int, tuple[int, int]]) -> int:
    """When a batch's last jar is out at the earliest with the whole kitchen to itself.

    ``loads`` has minutes and jars of its loads by canner. By then each canner can have ended so many loads, one behind
    the other, each with no more jars than could be prepared before it.
    """
    batch = day.batches[number]
    low, high = ready_minutes(day, number) + min(minutes for minutes, _ in loads.values()), day.horizon
    while low < high:
        out = (low + high) // 2
        if sum(_jars_by(day, batch, out, *load) for load in loads.values()) >= batch.jars:
            high = out
        else:
            low = out + 1
    return low


def _jars_by(day: Day, batch: Batch, out: int, minutes: int, room: int) -> int:
    """The jars of a batch that one canner can have done by a moment."""
    jars, start = 0, out - minutes
    while (prepared := _prepared(day, batch, start)) > 0 and jars < batch.jars:
        jars += min(room, prepared)
        start -= minutes
    return jars


def _prepared(day: Day, batch: Batch, start: int) -> int:
    """The jars of one piece that can be ready when the fill starts."""
    minutes = start - batch.kettle_minutes - batch.arrival
    if minutes < 0:
        return 0
    each = batch.prep_person_minutes_per_jar
    hands = max(1, min(day.policy.prep_hands, max(len(day.people), 1)))
    return batch.jars if each == 0 else min(batch.jars, int(minutes * hands / each + 1e-6))


def _room(options: Options, option: Option) -> int:
    """The most jars any load on this canner could hold: a small jar may ride in a larger jar's load."""
    return max(other.jars for row in options.by_batch for other in row if other.canner == option.canner)


def _least_minutes(options: Options, option: Option) -> tuple[int, int]:
    """The least that any load which could carry these jars takes of the canner and of a watch.

    The load need not be the batch's own: jars ride with others of the same method and pressure that run as
    long.
    """
    method, pressure_psi, minutes = option.family
    carriers = [
        other
        for row in options.by_batch
        for other in row
        if other.canner == option.canner
        and other.family[:2] == (method, pressure_psi)
        and other.family[2] >= minutes
    ]
    return min(other.minutes for other in carriers), min(other.watch_minutes for other in carriers)


def ready_minutes(day: Day, number: int) -> int:
    """When the first jar of a batch could be filled: one jar's prep by every hand there is, then the kettle."""
    batch = day.batches[number]
    hands = max(1, min(day.policy.prep_hands, max(len(day.people), 1)))
    return batch.arrival + prep_minutes(batch.prep_person_minutes_per_jar, 1, hands) + batch.kettle_minutes


def _groups(needs: Iterable[_Need]) -> list[list[_Need]]:
    """Batches that could meet on a canner, directly or through others; groups share no canner."""
    groups: list[tuple[set[int], list[_Need]]] = []
    for need in needs:
        canners, members = set(need.canners), [need]
        for group in [group for group in groups if group[0] & canners]:
            canners |= group[0]
            members = group[1] + members
            groups.remove(group)
        groups.append((canners, members))
    return [sorted(members, key=lambda need: need.batch) for _, members in groups]


def _machines(day: Day, group: Sequence[_Need]) -> int:
    """How many loads of the group can run at once: canners on one burner take turns."""
    canners = set().union(*(need.canners for need in group))
    return len({day.canners[number].burner_id for number in canners})


def _lateness(day: Day, groups: Sequence[Sequence[_Need]]) -> Bound:
    alone = sum(max(0, need.alone_out - need.due) for group in groups for need in group)
    shared = sum(max(_group_lateness(day, group), _alone(group)) for group in groups)
    return Bound(shared, "canner hours" if shared > alone else "each batch alone")


def _alone(group: Sequence[_Need]) -> int:
    return sum(max(0, need.alone_out - need.due) for need in group)


def _group_lateness(day: Day, group: Sequence[_Need]) -> int:
    """The k-th batch to finish cannot be out before the k smallest works are done; dues in order are the best
    match.
    """
    machines = _machines(day, group)
    first = min(need.ready for need in group)
    done, late = 0.0, 0
    for work, due in zip(
        sorted(need.work for need in group), sorted(need.due for need in group), strict=True
    ):
        done += work
        late += max(0, math.ceil(first + done / machines - 1e-6) - due)
    return late


def _last_out(day: Day, groups: Sequence[Sequence[_Need]]) -> Bound:
    longest = max((need for group in groups for need in group), key=lambda need: need.alone_out)
    best = Bound(
        longest.alone_out, f"batch {day.batches[longest.batch].id} in turn on {_names(day, [longest])}"
    )
    for group in groups:
        machines = _machines(day, group)
        for release in sorted({need.ready for need in group}):
            late_work = sum(need.work for need in group if need.ready >= release)
            value = math.ceil(release + late_work / machines - 1e-6)
            if value > best.value:
                best = Bound(value, f"canner hours: {_names(day, group)}")
    watches = sum(1 for person in day.people if person.may_watch) * day.policy.canners_per_person
    everyone = [need for group in groups for need in group]
    if watches:
        watch = sum(need.jars * need.watch_minutes_per_jar for need in everyone)
        value = math.ceil(min(need.ready for need in everyone) + watch / watches - 1e-6)
        if value > best.value:
            best = Bound(value, "trained people at the canners")
    return best


def _names(day: Day, group: Sequence[_Need]) -> str:
    canners = sorted(set().union(*(need.canners for need in group)))
    return ", ".join(day.canners[number].name for number in canners)


def _least_loads(groups: Sequence[Sequence[_Need]]) -> int:
    return sum(math.ceil(sum(need.jars / need.most_jars for need in group) - 1e-6) for group in groups)


def _left_out(day: Day, options: Options, needs: Sequence[_Need], must_leave: int) -> Bound:
    """Jars of batches that cannot be canned at all, and jars beyond what a group's canners hold in service."""
    over = 0
    for group in _groups(needs):
        canners = set().union(*(need.canners for need in group))
        holds = sum(_holds(day, options, number) for number in canners)
        over += max(0, sum(need.jars for need in group) - holds)
    if over:
        return Bound(must_leave + over, "canners full all day")
    return Bound(must_leave, "no process or no time" if must_leave else "every jar has a place")


def _holds(day: Day, options: Options, canner: int) -> int:
    row = [option for row in options.by_batch for option in row if option.canner == canner]
    shortest, most = min(option.minutes for option in row), max(option.jars for option in row)
    return sum(span.minutes // shortest for span in day.canners[canner].service) * most
