"""The socket for pages, opened before anything else so that a taken port is known at once."""

from __future__ import annotations

import ipaddress
import socket

from kitchen.errors import BadConfiguration

_BACKLOG = 128


def check_listen_address(host: str, named_hosts: list[str]) -> None:
    """Refuse to listen beyond this machine while no host has a name: nobody could reach a page anyway."""
    if not _is_loopback(host) and not named_hosts:
        raise BadConfiguration(
            f"Listening on {host} lets others reach this machine, but the kitchen has no name there.",
            remedy="Set KITCHEN_HOSTS to the name or number that they type into the browser.",
        )


def open_socket(host: str, port: int) -> socket.socket:
    """A listening socket. A port that is taken, or an address that is not this machine's, is refused."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((host, port))
        listener.listen(_BACKLOG)
    except OSError as error:
        listener.close()
        raise BadConfiguration(
            f"Port {port} on {host} cannot be used: {error.strerror or error}.",
            remedy="Stop what uses it, or choose another port with KITCHEN_PORT.",
        ) from error
    return listener


def _is_loopback(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
