"""Every drill there is."""

from __future__ import annotations

from kitchen.drill.beats import BEATS
from kitchen.drill.broker import BROKER
from kitchen.drill.clock import CLOCK
from kitchen.drill.full_disk import FULL_DISK
from kitchen.drill.kill import KILL
from kitchen.drill.race import RACE
from kitchen.drill.report import Drill
from kitchen.drill.restore import RESTORE
from kitchen.drill.slow_mail import SLOW_MAIL
from kitchen.drill.topology import TOPOLOGY

DRILLS: dict[str, Drill] = {
    drill.name: drill for drill in (KILL, BROKER, BEATS, CLOCK, FULL_DISK, RACE, RESTORE, SLOW_MAIL, TOPOLOGY)
}
