"""The environment variables that set the program up.

Everything has a default; a value that makes no sense is refused.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

from kitchen.errors import BadConfiguration

PREFIX = "KITCHEN_"
USUAL_PORT = 8000
LOCAL_HOSTS = ("localhost", "127.0.0.1", "[::1]", "testserver")

_YES = frozenset({"1", "yes", "true", "on"})
_NO = frozenset({"0", "no", "false", "off", ""})


@dataclass(frozen=True, slots=True)
class Environment:
    """The variables that begin with ``KITCHEN_``, read by their names without that beginning."""

    variables: Mapping[str, str]

    def text(self, name: str) -> str | None:
        """The value without blanks at its ends; none when missing or empty."""
        return self.variables.get(PREFIX + name, "").strip() or None

    def flag(self, name: str) -> bool:
        """A yes or a no. Missing means no; any word but 1, 0, yes, no, true, false, on and off is refused."""
        word = self.variables.get(PREFIX + name, "").strip().lower()
        if word not in _YES | _NO:
            raise BadConfiguration(f"{PREFIX}{name} is {word!r}.", remedy="Set it to 1 or 0.")
        return word in _YES

    def hosts(self) -> list[str]:
        """The names by which the kitchen is reached: this machine's own, and those in ``KITCHEN_HOSTS``."""
        return list(dict.fromkeys([*LOCAL_HOSTS, *self.named_hosts()]))

    def named_hosts(self) -> list[str]:
        """The names in ``KITCHEN_HOSTS``, divided by commas. A wildcard for every host is refused."""
        names = [name.strip() for name in (self.text("HOSTS") or "").split(",") if name.strip()]
        for name in names:
            if name == "*" or "/" in name or " " in name:
                raise BadConfiguration(
                    f"{PREFIX}HOSTS names the host {name!r}.",
                    remedy="Name each host as it stands in the browser, without https://, divided by commas.",
                )
        return names

    def data_folder(self, project: Path) -> Path:
        """Where the kitchen keeps its data: ``KITCHEN_DATA``, or ``.data`` beside the program."""
        named = self.text("DATA")
        return (Path(named).expanduser() if named else project / ".data").absolute()

    def address(self, *, https: bool) -> str:
        """The kitchen's own address: ``KITCHEN_URL``, or what the other variables say about it."""
        named = self.text("URL")
        if named is None:
            host = next(iter(self.named_hosts()), "localhost")
            return f"https://{host}" if https else f"http://{host}:{self.port()}"
        parts = urlsplit(named)
        if parts.scheme not in {"http", "https"} or not parts.netloc or parts.path.strip("/") or parts.query:
            raise BadConfiguration(
                f"{PREFIX}URL is {named!r}.",
                remedy="Write scheme and host alone, like https://kitchen.example.",
            )
        return f"{parts.scheme}://{parts.netloc}"

    def port(self) -> int:
        """The port to listen on: ``KITCHEN_PORT``, or 8000."""
        word = self.text("PORT") or str(USUAL_PORT)
        if not word.isascii() or not word.isdigit() or not 0 < int(word) < 65536:
            raise BadConfiguration(f"{PREFIX}PORT is {word!r}.", remedy="Use a number from 1 to 65535.")
        return int(word)

    def number(self, name: str, *, usual: int, most: int) -> int:
        """A count of at least one."""
        word = self.text(name) or str(usual)
        if not word.isascii() or not word.isdigit() or not 0 < int(word) <= most:
            raise BadConfiguration(f"{PREFIX}{name} is {word!r}.", remedy=f"Use a number from 1 to {most}.")
        return int(word)

    def proxies(self) -> int:
        """How many proxies stand in front of the web server: ``KITCHEN_PROXIES``, or none."""
        word = self.text("PROXIES") or "0"
        if not word.isascii() or not word.isdigit() or int(word) > 9:
            raise BadConfiguration(f"{PREFIX}PROXIES is {word!r}.", remedy="Count the proxies, from 0 to 9.")
        return int(word)
