"""Looks for known flaws in the releases of a locked list: `python deploy/advisories.py PIP_AUDIT LIST`.

Ends with 0 when every release was looked up and none is flawed, with 1 when one is, and with 3 when it cannot tell. An
auditor that finds no release in the service it asked ends with 0 itself; that says nothing and is no success here.
"""

from __future__ import annotations

import json
import subprocess
import sys

CLEAN, FLAWED, CANNOT_TELL = 0, 1, 3
SERVICES = ("pypi", "osv")
"""Who knows of flaws, one after the other: the registry's own list, then the one of open source as a whole."""
PATIENCE_SECONDS = 300


def asked(auditor: str, service: str, locked: str) -> list[dict[str, object]]:
    """What the service says of each release; nothing when it cannot be reached."""
    command = [auditor, "--vulnerability-service", service, "--format", "json", "--progress-spinner", "off"]
    command += ["--disable-pip", "--require-hashes", "--requirement", locked]
    try:
        told = subprocess.run(command, capture_output=True, text=True, timeout=PATIENCE_SECONDS, check=False)
        found: list[dict[str, object]] = json.loads(told.stdout)["dependencies"]
    except (subprocess.TimeoutExpired, OSError, ValueError, KeyError):
        return []
    return found


def judge(releases: list[dict[str, object]]) -> tuple[int, list[str]]:
    """How it ends, and what there is to read: each flaw, or the releases of which nothing is known."""
    flaws = []
    for one in releases:
        known = one.get("vulns")
        flaws += (
            [f"{one['name']} {one['version']}: {flaw['id']}" for flaw in known]
            if isinstance(known, list)
            else []
        )
    if flaws:
        return FLAWED, flaws
    unknown = [str(one["name"]) for one in releases if "vulns" not in one]
    if unknown or not releases:
        return CANNOT_TELL, [f"Nothing is known of {len(unknown)} of {len(releases)} releases."]
    return CLEAN, [f"{len(releases)} releases, none with a known flaw."]


def main(auditor: str, locked: str) -> int:
    """Ask one service after the other until one can tell."""
    for service in SERVICES:
        code, lines = judge(asked(auditor, service, locked))
        sys.stdout.write("".join(f"{service}: {line}\n" for line in lines))
        if code != CANNOT_TELL:
            return code
    return CANNOT_TELL


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
