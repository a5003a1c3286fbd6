"""The server of the bench: pages and one channel for each tab, on the loopback address, behind a random token.

It answers only addresses that begin with the token. The channel also checks the origin and the host of the page, so no
other web site can use it, not even by a host name that points to this computer. Nothing is written on this computer.
"""

import asyncio
import json
import logging
import secrets
from collections import OrderedDict
from collections.abc import Callable
from importlib import resources
from typing import Any

import tornado.httpserver
import tornado.netutil
import tornado.web
import tornado.websocket

from pingwright.bench.grounds import Grounds
from pingwright.bench.session import Session, State
from pingwright.bench.work import Worker

HOST = "127.0.0.1"
#: A message from a tab, at most [bytes]: the largest file that a tab may send, as text, fits.
LONGEST = 55_000_000
#: Tabs at the same time, at most; states of closed tabs that are kept for a reload.
TABS, LEFT = 16, 32
ASSETS = {
    "bench.css": "text/css",
    "bench.js": "text/javascript",
    "columns.js": "text/javascript",
    "draw.js": "text/javascript",
    "knobs.js": "text/javascript",
    "stage.js": "text/javascript",
}
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
    "connect-src 'self' {channel}; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)


class Server:
    """A bench that listens. address: what to open in the browser; it holds the token.

    port: 0 takes any free one. begin: the (scenario text, its files) that each new tab starts with, or None for the
    first moment. Raises OSError where the port is taken.
    """

    def __init__(self, port: int, begin: tuple[str, dict[str, bytes]] | None) -> None:
        self.token = secrets.token_urlsafe(24)
        self.worker = Worker(_log)
        self.grounds = Grounds()
        self.begin = begin
        self.tabs: set[_Channel] = set()
        self.left: OrderedDict[str, State] = OrderedDict()
        sockets = tornado.netutil.bind_sockets(port, HOST)
        self.port = int(sockets[0].getsockname()[1])
        rules: list[Any] = [
            (f"/{self.token}/", _Page, {"server": self}),
            (f"/{self.token}/live", _Channel, {"server": self}),
            (f"/{self.token}/([a-z]+\\.(?:css|js))", _Asset, {"server": self}),
        ]
        application = tornado.web.Application(
            rules, default_handler_class=_Nothing, websocket_max_message_size=LONGEST, websocket_ping_interval=20
        )
        self._http = tornado.httpserver.HTTPServer(application, max_body_size=1000)
        self._http.add_sockets(sockets)

    @property
    def address(self) -> str:
        """The address to open, with its token."""
        return f"http://{HOST}:{self.port}/{self.token}/"

    @property
    def origins(self) -> set[str]:
        """Origins whose pages may open the channel."""
        return {f"http://{HOST}:{self.port}"}

    async def stop(self) -> None:
        """Close every tab's channel and the port."""
        self._http.stop()
        for tab in list(self.tabs):
            tab.close(1001, "the bench was stopped")
        await asyncio.to_thread(self.worker.close)


async def serve(
    port: int, begin: tuple[str, dict[str, bytes]] | None, ready: Callable[[str], None], ended: asyncio.Event
) -> None:
    """Serve until `ended` is set. ready: called once with the address. Raises OSError where the port is taken."""
    logging.getLogger("tornado.access").setLevel(logging.CRITICAL)
    server = Server(port, begin)
    try:
        ready(server.address)
        await ended.wait()
    finally:
        await server.stop()


def _log(error: Exception) -> None:
    logging.getLogger("pingwright.bench").error("a job of the bench failed", exc_info=error)


class _Plain(tornado.web.RequestHandler):
    server: Server

    def initialize(self, server: Server | None = None) -> None:
        if server is not None:
            self.server = server

    def set_default_headers(self) -> None:
        self.clear_header("Server")
        for name, value in (
            ("X-Content-Type-Options", "nosniff"),
            ("Referrer-Policy", "no-referrer"),
            ("Cache-Control", "no-store"),
            ("Cross-Origin-Resource-Policy", "same-origin"),
        ):
            self.set_header(name, value)

    def prepare(self) -> None:
        if self.request.host.split(":")[0] != HOST:
            raise tornado.web.HTTPError(403)

    def write_error(self, status_code: int, **_: Any) -> None:
        self.set_header("Content-Type", "text/plain")
        self.finish(f"{status_code}: nothing here. Open the address that the bench printed.\n")


class _Nothing(_Plain):
    def prepare(self) -> None:
        raise tornado.web.HTTPError(404)


class _Page(_Plain):
    def get(self) -> None:
        channel = f"ws://{HOST}:{self.server.port}"
        self.set_header("Content-Security-Policy", POLICY.format(channel=channel))
        self.set_header("Content-Type", "text/html; charset=utf-8")
        self.finish(_asset("bench.html"))


class _Asset(_Plain):
    def get(self, name: str) -> None:
        if name not in ASSETS:
            raise tornado.web.HTTPError(404)
        self.set_header("Content-Type", f"{ASSETS[name]}; charset=utf-8")
        self.finish(_asset(name))


class _Channel(tornado.websocket.WebSocketHandler):
    server: Server

    def initialize(self, server: Server) -> None:
        self.server = server

    def prepare(self) -> None:
        """Refuse every origin but the page's own; the check of the library trusts some claims of the browser."""
        own = self.request.headers.get("Origin") in self.server.origins
        if not own or self.request.host != f"{HOST}:{self.server.port}":
            raise tornado.web.HTTPError(403)

    def check_origin(self, origin: str) -> bool:
        return origin in self.server.origins

    def open(self, *_: str) -> None:
        if len(self.server.tabs) >= TABS:
            self.close(1013, f"the bench can serve {TABS} tabs at the same time")
            return
        self.server.tabs.add(self)
        loop = asyncio.get_running_loop()

        def send(message: dict[str, Any]) -> None:
            loop.call_soon_threadsafe(self._send, json.dumps(message, allow_nan=False))

        self.name = self.get_query_argument("tab", "")[:64]
        left = self.server.left.pop(self.name, None)
        self.session = Session(self, self.server.worker, self.server.grounds, send, self.server.begin, left)
        self.session.start()

    def on_message(self, message: str | bytes) -> None:
        if self in self.server.tabs:
            self.session.receive(message)

    def on_close(self) -> None:
        if self in self.server.tabs and self.name:
            self.server.left[self.name] = self.session.state
            while len(self.server.left) > LEFT:
                self.server.left.popitem(last=False)
        self.server.tabs.discard(self)
        self.server.worker.end(self)

    def _send(self, text: str) -> None:
        if self in self.server.tabs:
            try:
                self.write_message(text)
            except tornado.websocket.WebSocketClosedError:
                self.on_close()


def _asset(name: str) -> str:
    return resources.files("pingwright.bench").joinpath("assets", name).read_text(encoding="utf-8")
