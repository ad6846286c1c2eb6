"""A whole deployment on this machine for a drill: every part as a process of its own, behind nginx as it is shipped."""

from __future__ import annotations

import json
import os
import shutil
import ssl
import subprocess
from collections.abc import Mapping
from contextlib import ExitStack
from dataclasses import dataclass, field
from http.client import HTTPException, HTTPSConnection
from http.cookies import SimpleCookie
from pathlib import Path
from urllib.parse import urlencode
from urllib.request import urlopen

from django.urls import reverse

from kitchen.bench.processes import PROJECT, Place, Process, end_group, start, wait_until
from kitchen.bench.redis_server import free_port, redis_server
from kitchen.errors import BadConfiguration

HOST = "kitchen.example"
NGINX = PROJECT / "deploy" / "nginx"
_HERE = "127.0.0.1"
_NGINX_CONF = """
{user}
daemon off;
pid {folder}/pid;
error_log {folder}/error.log crit;
events {{ }}
http {{
    client_body_temp_path {folder}/body;
    proxy_temp_path {folder}/proxy;
    fastcgi_temp_path {folder}/fastcgi;
    uwsgi_temp_path {folder}/uwsgi;
    scgi_temp_path {folder}/scgi;
    include {folder}/upstream.conf;
    include {folder}/kitchen.conf;
}}
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What came back through the proxy. ``location`` is where it leads, ``cookies`` are those that were set."""

    status: int
    body: bytes
    location: str
    cookies: dict[str, str]

    def told(self) -> dict[str, object]:
        """The body as JSON."""
        told: dict[str, object] = json.loads(self.body)
        return told


@dataclass(slots=True)
class Parts:
    """The parts that run, by their names; ``web-1`` and so on where there are several."""

    place: Place
    stack: ExitStack
    running: dict[str, Process] = field(default_factory=dict)
    web_ports: list[int] = field(default_factory=lambda: [free_port(), free_port()])
    broker_port: int = field(default_factory=free_port)
    https_port: int = field(default_factory=free_port)
    _broker: ExitStack = field(default_factory=ExitStack)

    @property
    def logs(self) -> Path:
        """The folder with the log of each part, and nginx's."""
        return self.place.folder / "logs"

    def environment(self, **more: str) -> dict[str, str]:
        """As deploy/environment.example sets a deployment up, on this machine."""
        return self.place.environment(
            KITCHEN_HOSTS=HOST,
            KITCHEN_HTTPS="1",
            KITCHEN_PROXIES="1",
            KITCHEN_LOG_JSON="1",
            KITCHEN_WEB_PROCESSES="1",
            KITCHEN_WORKER_PROCESSES="1",
            KITCHEN_BROKER_URL=f"redis://{_HERE}:{self.broker_port}/0",
            **more,
        )

    def start_all(self, *, workers: int) -> None:
        """Redis, nginx, two web servers, so many workers, solver and beat; waits until they work."""
        self.logs.mkdir()
        self.stack.callback(self.stop, "")
        self.start_broker()
        self._start_nginx()
        for name in ("web-1", "web-2", *(f"worker-{one + 1}" for one in range(workers)), "solver", "beat"):
            self.start(name)
        self.wait_for_pages()

    def start(self, name: str) -> None:
        """Start one part by the command that its unit names."""
        role, _, number = name.partition("-")
        port = {"KITCHEN_PORT": str(self.web_ports[int(number) - 1])} if role == "web" else {}
        with (self.logs / f"{name}.log").open("ab") as log:
            self.running[name] = start(self.environment(**port), "-P", "-m", "kitchen", role, log=log)

    def stop(self, *names: str) -> None:
        """Shoot every part whose name begins with one of these."""
        for name in [one for one in self.running if one.startswith(names)]:
            end_group(self.running.pop(name))

    def start_broker(self) -> None:
        """A Redis server that keeps nothing."""
        self.stack.callback(self.stop_broker)
        self._broker.enter_context(redis_server(self.broker_port, self.place.folder))

    def stop_broker(self) -> None:
        """It stops at once, with all that was in it."""
        self._broker.close()

    def wait_for_pages(self) -> None:
        """Until both web servers answer, each by itself."""
        wait_until(
            lambda: all(self.direct(number, "/healthz")[0] == 200 for number in (0, 1)),
            what="The start of the web servers",
        )

    def direct(self, number: int, path: str) -> tuple[int, bytes]:
        """A web server's answer past the proxy; 0 when nobody is there."""
        command = f"http://{_HERE}:{self.web_ports[number]}{path}"
        try:
            with urlopen(command, timeout=30) as answer:
                return answer.status, answer.read()
        except OSError as error:
            return getattr(error, "code", 0), b""

    def ask(
        self,
        path: str,
        *,
        form: Mapping[str, str] | None = None,
        told: Mapping[str, object] | None = None,
        headers: Mapping[str, str] | None = None,
    ) -> Answer:
        """An answer through the proxy, to a form, a JSON body or neither. Status 0: nobody is there."""
        all_headers = {"Host": HOST, "Referer": f"https://{HOST}/", **(headers or {})}
        body = None
        if form is not None:
            body, all_headers["Content-Type"] = urlencode(form), "application/x-www-form-urlencoded"
        if told is not None:
            body, all_headers["Content-Type"] = json.dumps(told), "application/json"
        trusted = ssl.create_default_context(cafile=str(self.place.folder / "kitchen.pem"))
        connection = HTTPSConnection(_HERE, self.https_port, timeout=60, context=trusted)
        try:
            connection.request("GET" if body is None else "POST", path, body, all_headers)
            answer = connection.getresponse()
            cookies = SimpleCookie()
            for name, value in answer.getheaders():
                if name.lower() == "set-cookie":
                    cookies.load(value)
            values = {name: morsel.value for name, morsel in cookies.items()}
            location = answer.getheader("Location") or ""
            return Answer(status=answer.status, body=answer.read(), location=location, cookies=values)
        except (OSError, HTTPException):
            return Answer(status=0, body=b"", location="", cookies={})
        finally:
            connection.close()

    def sign_in(self, email: str, password: str) -> dict[str, str]:
        """The cookies of somebody who signed in; without a session when that failed."""
        path = reverse("members:sign-in")
        cookies = self.ask(path).cookies
        sent = {"username": email, "password": password, "csrfmiddlewaretoken": cookies["__Host-csrf"]}
        return cookies | self.ask(path, form=sent, headers=as_header(cookies)).cookies

    def _start_nginx(self) -> None:
        folder = self.place.folder
        _certify(folder)
        changes = {
            "listen 80;": f"listen {_HERE}:{free_port()};",
            "listen 443 ssl;": f"listen {_HERE}:{self.https_port} ssl;",
            "/etc/ssl/certs/kitchen.pem": f"{folder}/kitchen.pem",
            "/etc/ssl/private/kitchen.key": f"{folder}/kitchen.key",
            "/var/log/nginx/": f"{self.logs}/nginx-",
            "127.0.0.1:8001": f"{_HERE}:{self.web_ports[0]}",
            "127.0.0.1:8002": f"{_HERE}:{self.web_ports[1]}",
        }
        for name in ("kitchen.conf", "upstream.conf"):
            text = (NGINX / name).read_text(encoding="utf-8")
            for shipped, here in changes.items():
                text = text.replace(shipped, here)
            (folder / name).write_text(text, encoding="utf-8")
        user = "user root;" if os.geteuid() == 0 else ""
        (folder / "nginx.conf").write_text(_NGINX_CONF.format(user=user, folder=folder), encoding="utf-8")
        with (self.logs / "nginx.log").open("ab") as log:
            self.running["nginx"] = subprocess.Popen(
                [_program("nginx", "nginx-light"), "-c", str(folder / "nginx.conf")],
                start_new_session=True,
                stdout=log,
                stderr=log,
            )


def as_header(cookies: Mapping[str, str]) -> dict[str, str]:
    """Cookies as a browser sends them."""
    return {"Cookie": "; ".join(f"{name}={value}" for name, value in cookies.items())}


def _certify(folder: Path) -> None:
    """A certificate for this machine, which nobody else trusts."""
    names = f"subjectAltName=DNS:{HOST},IP:{_HERE}"
    words = ["req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", f"/CN={HOST}"]
    files = ["-addext", names, "-keyout", str(folder / "kitchen.key"), "-out", str(folder / "kitchen.pem")]
    subprocess.run([_program("openssl", "openssl"), *words, *files], check=True, capture_output=True)


def _program(name: str, package: str) -> str:
    found = shutil.which(name, path=f"{os.environ.get('PATH', '')}:/usr/sbin")
    if found is None:
        raise BadConfiguration(f"{name} is not installed.", remedy=f"Debian: apt install {package}.")
    return found
