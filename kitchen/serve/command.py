"""The two commands of a kitchen on one machine: serve it, or check its day."""

from __future__ import annotations

import os
import sys

from django.conf import settings
from django.core.management import call_command

from kitchen.configuration.environment import Environment
from kitchen.serve.listen import check_listen_address, open_socket
from kitchen.serve.prepare import lock_data_folder, prepare
from kitchen.serve.roles import web_server as web_server_command
from kitchen.serve.supervisor import Child, supervise


def serve() -> None:
    """Make everything ready, then run web server and worker until told to stop."""
    environment = Environment(os.environ)
    host = environment.text("LISTEN") or "127.0.0.1"
    check_listen_address(host, environment.named_hosts())
    with lock_data_folder(settings.KITCHEN_DATA), open_socket(host, environment.port()) as listener:
        prepare(environment)
        print(f"The kitchen is at {settings.KITCHEN_URL}/ until you press Ctrl-C.", flush=True)
        supervise([web_server(listener.fileno()), worker()])


def make_ready() -> None:
    """Bring tables and static files up to date, and end: once before the parts of a deployment are started."""
    prepare(Environment(os.environ))


def check_day() -> None:
    """Make everything ready, then print the demo's harvest day and judge it, instead of serving."""
    prepare(Environment(os.environ))
    call_command("show_day")


def web_server(listener: int) -> Child:
    """The web server on an open socket; one process, because the embedded cache lives in it."""
    command = (*web_server_command(processes=1), "--bind", f"fd://{listener}")
    return Child(name="web server", command=command, files=(listener,))


def worker() -> Child:
    """The worker, with the beat that wakes the sweep inside it.

    Right for one node: where several workers run, beat must run alone.
    """
    arguments = """
        -m celery --quiet --app kitchen.celery worker --beat --pool solo
        --without-gossip --without-mingle --loglevel WARNING
    """
    return Child(name="worker", command=(sys.executable, *arguments.split()))
