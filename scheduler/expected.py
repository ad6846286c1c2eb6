"""What a canner is expected to take, before and after learning, for one load that canners are compared by.

A plan asks for each load's own jars, pack and pressure; this is for people who want to see what was learned.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from scheduler.canner import Burner, Canner, least_cool_down_minutes
from scheduler.canner_kind import CannerKind
from scheduler.heat import plan_cool_down, plan_heat_up, plan_pressure_up, usual_cool_down
from scheduler.jars import JarSize, Pack
from scheduler.learning import Measured
from scheduler.pace import Pace, paced_minutes
from scheduler.rack import capacity

# The load to compare by: the largest of these jars that fits, raw pack, at the pressures of low ground (USDA AIB
# 539: 11 lb dial, 10 lb weighted), for 25 minutes, on which only the depth of water depends.
_JARS = (JarSize.QUART, JarSize.PINT, JarSize.HALF_PINT)
_PRESSURE_PSI = {CannerKind.DIAL: 11.0, CannerKind.WEIGHTED: 10.0}
_PROCESS_MINUTES = 25

_BY_HAND = "entered by hand, so nothing learned is used"


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """Minutes of one phase by the physical estimate alone, and as planned; ``remark`` says why they differ so."""

    kind: Measured
    usual_minutes: int
    planned_minutes: int
    remark: str = ""


def compared_jar(canner: Canner) -> JarSize:
    """The jar of the load that canners are compared by."""
    fitting = (jar for jar in _JARS if capacity(canner, jar, process_minutes=_PROCESS_MINUTES))
    return next(fitting, _JARS[-1])


def expected_phases(canner: Canner, burner: Burner, cool_down_setting_minutes: int) -> Iterator[Expected]:
    """Every phase of this canner that can be learned, at the canner's pace."""
    jars = (compared_jar(canner),)
    plain = replace(canner, pace=Pace(), own_heat_up_minutes=None, own_pressure_up_minutes=None)
    before, after = (
        plan_heat_up(one, burner, jars, Pack.RAW, _PROCESS_MINUTES).minutes for one in (plain, canner)
    )
    yield _expected(Measured.HEAT_UP, before, after, canner.own_heat_up_minutes is not None)
    if not canner.kind.is_pressure:
        return
    psi = _PRESSURE_PSI[canner.kind]
    before, after = (
        plan_pressure_up(one, burner, jars, psi, _PROCESS_MINUTES).minutes for one in (plain, canner)
    )
    yield _expected(Measured.PRESSURE_UP, before, after, canner.own_pressure_up_minutes is not None)
    yield _cool_down(canner, jars[0], cool_down_setting_minutes)


def _expected(kind: Measured, before: int, after: int, by_hand: bool) -> Expected:
    return Expected(
        kind=kind, usual_minutes=before, planned_minutes=after, remark=_BY_HAND if by_hand else ""
    )


def _cool_down(canner: Canner, jar: JarSize, setting_minutes: int) -> Expected:
    psi, least = _PRESSURE_PSI[canner.kind], least_cool_down_minutes(canner, jar)
    usual = usual_cool_down(canner, jar, psi, _PROCESS_MINUTES)
    learned = paced_minutes(usual, canner.pace.cool_down)
    planned = plan_cool_down(canner, (jar,), psi, _PROCESS_MINUTES, setting_minutes)
    remark = f"never below {least} min (rule S5)"
    if jar in canner.own_cool_down_minutes:
        remark = f"{_BY_HAND}; {remark}"
    elif planned > learned and planned == least:
        remark = f"would be {learned} min, held at the least that rule S5 allows"
    elif planned > learned:
        remark = f"would be {learned} min, held at the kitchen's own setting; {remark}"
    return Expected(
        kind=Measured.COOL_DOWN,
        usual_minutes=paced_minutes(usual, 1.0),
        planned_minutes=planned,
        remark=remark,
    )
