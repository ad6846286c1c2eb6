"""How the web server logs: as the rest of the program does, and what it does at its start. It reads this file by its
``--config``.
"""

from __future__ import annotations

import os

from kitchen.configuration.environment import Environment
from kitchen.configuration.logs import logging_settings
from kitchen.configuration.memory import set_aside_what_stays

_lines = logging_settings(as_json=Environment(os.environ).flag("LOG_JSON"))
# It comes with handlers of its own, to which these names stand.
logconfig_dict = {
    **_lines,
    "loggers": {
        "gunicorn.error": {"level": "WARNING", "handlers": [], "propagate": True},
        "gunicorn.access": {"level": "WARNING", "handlers": [], "propagate": True},
    },
}


def post_worker_init(worker: object) -> None:
    """The server calls this, by this name, in each of its processes when the program is loaded."""
    set_aside_what_stays()
