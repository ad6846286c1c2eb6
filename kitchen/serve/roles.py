"""The parts of a kitchen that runs on servers of its own: web server, worker, solver and beat, each one program.

They share a PostgreSQL database and a Redis broker, and may each run several times but for beat, of which one is enough
and a second does no harm. Whoever starts them watches over them: systemd, or a container engine.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable

from django.conf import settings

from kitchen.configuration.environment import Environment
from kitchen.errors import BadConfiguration
from kitchen.serve.listen import check_listen_address

THREADS = 8
"""Pages that one web process serves at once."""
LONGEST_TASK_SECONDS = 900
"""A plan takes ten minutes at most (the limit of its table) and ends by itself; what does not is ended."""


def web(environment: Environment) -> list[str]:
    """The web server, with processes of its own."""
    host = environment.text("LISTEN") or "127.0.0.1"
    check_listen_address(host, environment.named_hosts())
    shown = f"[{host}]" if ":" in host else host
    return [
        *web_server(processes=environment.number("WEB_PROCESSES", usual=2, most=64)),
        *("--bind", f"{shown}:{environment.port()}"),
    ]


def web_server(*, processes: int) -> list[str]:
    """The web server as it is run everywhere, but for where it listens."""
    arguments = f"""
        -m gunicorn kitchen.wsgi:application --config python:kitchen.serve.gunicorn_settings --workers {processes}
        --worker-class gthread --threads {THREADS} --graceful-timeout 10 --no-control-socket --log-level warning
    """
    return [sys.executable, "-P", *arguments.split()]


def worker(environment: Environment) -> list[str]:
    """Sends reminders, reads calendars and tidies up; everything but planning."""
    processes = environment.number("WORKER_PROCESSES", usual=2, most=64)
    return _celery("worker", "--queues", settings.CELERY_TASK_DEFAULT_QUEUE, "--concurrency", str(processes))


def solver(environment: Environment) -> list[str]:
    """Plans days, one at a time, apart from everything that must not wait for it."""
    limit = ("--time-limit", str(LONGEST_TASK_SECONDS))
    return _celery("worker", "--queues", settings.CELERY_PLANNING_QUEUE, "--concurrency", "1", *limit)


def beat(environment: Environment) -> list[str]:
    """Wakes the workers. What is due stands in the database, so a beat that died costs time and nothing else."""
    return _celery("beat")


ROLES: dict[str, Callable[[Environment], list[str]]] = {
    "web": web,
    "worker": worker,
    "solver": solver,
    "beat": beat,
}


def run(role: str) -> None:
    """Become the program of this role; this process is then it. Refused without a database and broker to share."""
    environment = Environment(os.environ)
    for name in ("DATABASE_URL", "BROKER_URL"):
        if environment.text(name) is None:
            raise BadConfiguration(
                f"{role} shares its work with other programs, and KITCHEN_{name} is not set.",
                remedy="Set it, or let one machine do everything with `python -m kitchen serve`.",
            )
    command = ROLES[role](environment)
    sys.stdout.flush()
    os.execv(command[0], command)  # noqa: S606  (no shell: a list of words)


def _celery(what: str, *words: str) -> list[str]:
    """Celery in one of its roles; each worker by a name of its own, which its process number makes."""
    command = (sys.executable, "-P", "-m", "celery", "--quiet", "--app", "kitchen.celery", what)
    own = ("--without-gossip", "--without-mingle", "--hostname", f"kitchen-{os.getpid()}@%h")
    return [*command, "--loglevel", "WARNING", *(own if what == "worker" else ()), *words]
