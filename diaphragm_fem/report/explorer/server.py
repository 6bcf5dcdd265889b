"""A server for one person on this machine: the loopback address, a port of chance, a token that opens it once.

Whoever opens the address with the token first gets a cookie; after that the token opens nothing. Requests without
either, and those of pages of other origins, are refused, before a stranger's megabytes are held; of connections on
which nobody was let in the oldest is closed where there are many.
"""

import hmac
import logging
import secrets
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

HOST = "127.0.0.1"
TOKEN, COOKIE = "token", "explorer"
MOST_BYTES = 100_000  # of a message: turning a slider sends 200
MOST_STRANGERS = 50  # connections that wait; a browser opens six, and a process may have 256 open in all


@dataclass(frozen=True, eq=False)
class Served:
    """A server that listens; `address` opens it once."""

    server: Any
    address: str

    def run(self) -> None:
        """Serve until stopped by Ctrl-C or a signal."""
        self.server.start()
        try:
            self.server.io_loop.start()
        finally:
            self.server.stop()


class Keeper:
    """Who may come in: the first with the token, from then on only who holds the cookie that it got."""

    def __init__(self, host: str) -> None:
        self.host = host
        self.token: str | None = secrets.token_urlsafe(32)
        self._cookie = secrets.token_urlsafe(32)
        self._name = f"{COOKIE}-{host.rpartition(':')[2]}"  # cookies know no ports
        self._strangers: deque[Any] = deque()

    def meet(self, connection: Any) -> None:
        """Note a connection on which a request is waited for; the oldest of many is closed."""
        self._strangers.append(connection)
        if len(self._strangers) > MOST_STRANGERS:
            self._strangers.popleft().close()

    def admit(self, handler: Any) -> str:
        """A name for a request that may come in; raises an HTTP error 403 for every other."""
        name = self._name_of(handler)
        with suppress(ValueError):
            self._strangers.remove(handler.request.connection)
        return name

    def _name_of(self, handler: Any) -> str:
        from tornado.web import HTTPError

        asked, page = handler.request, f"http://{self.host}"
        # another name for this machine may be somebody's trick, and cookies go to pages of every port
        if asked.host == self.host and asked.headers.get("Origin", page) == page and not _for_another_page(asked):
            if _same(handler.get_cookie(self._name), self._cookie):
                return "engineer"
            if self.token is not None and _same(handler.get_query_argument(TOKEN, ""), self.token):
                self.token = None
                # "Strict" would not be sent when a page is loaded anew that a file of the user's led to
                handler.set_cookie(self._name, self._cookie, httponly=True, samesite="Lax")
                return "engineer"
        raise HTTPError(403, reason="This address opens once. Start the explorer again for another")


def serve(room: Callable[[Any], Any]) -> Served:
    """A server of the documents that `room` furnishes; it listens at once and answers when it is run."""
    from bokeh.application import Application
    from bokeh.application.handlers.function import FunctionHandler
    from bokeh.server.auth_provider import AuthProvider
    from bokeh.server.server import BaseServer
    from bokeh.server.tornado import BokehTornado
    from bokeh.util.token import generate_secret_key
    from tornado.httpserver import HTTPServer
    from tornado.ioloop import IOLoop
    from tornado.netutil import bind_sockets
    from tornado.web import ErrorHandler

    logging.getLogger("bokeh").setLevel(logging.CRITICAL)
    logging.getLogger("tornado").setLevel(logging.CRITICAL)
    sockets = bind_sockets(0, HOST)
    host = f"{HOST}:{sockets[0].getsockname()[1]}"
    keeper = Keeper(host)
    # the library asks for a class of its own kind with these two hooks
    hooks = {"get_user": property(lambda _: keeper.admit), "login_url": "/refused"}
    doorkeeper = type("Doorkeeper", (AuthProvider,), hooks)()
    application = BokehTornado(
        {"/": Application(FunctionHandler(room))}, extra_websocket_origins=[host], auth_provider=doorkeeper,
        secret_key=generate_secret_key().encode(), sign_sessions=True, absolute_url=f"http://{host}/",
        websocket_max_message_size_bytes=MOST_BYTES,
    )  # fmt: skip
    # no file has a zero in its name: asked for one, the system fails, and the library with it; the script that puts
    # this page into others would hand them a session
    application.add_handlers(".*", [(r"/.*%00.*|/autoload\.js", ErrorHandler, {"status_code": 404})])
    start = application.start_request

    def start_request(server: Any, connection: Any) -> Any:
        keeper.meet(connection)
        return start(server, connection)

    application.start_request = start_request
    listening = HTTPServer(application, max_body_size=MOST_BYTES)
    listening.add_sockets(sockets)
    address = f"http://{host}/?{TOKEN}={keeper.token}"
    return Served(BaseServer(IOLoop.current(), application, listening), address)


@contextmanager
def private_page(address: str) -> Iterator[str]:
    """The address of a page that leads to another and that nobody else may read, as long as it is used: what a browser
    is started with stands in a list of processes."""
    with TemporaryDirectory(prefix="explorer-") as folder:
        page = Path(folder) / "explorer.html"
        page.write_text(f'<meta http-equiv="refresh" content="0; url={address}">', encoding="utf-8")
        yield page.as_uri()


def _for_another_page(asked: Any) -> bool:
    """Whether a browser says that a page of another origin holds what it asks for, as a script or a frame: of these it
    tells no origin (W3C Fetch Metadata Request Headers, 2.1 and 2.4). Links lead to a document of its own."""
    told = asked.headers.get
    same, document = told("Sec-Fetch-Site", "none") in ("same-origin", "none"), told("Sec-Fetch-Dest") == "document"
    return told("Origin") is None and not (same or document)


def _same(one: str | None, other: str) -> bool:
    """Whether two texts are equal, in a time that does not tell where they differ."""
    return hmac.compare_digest((one or "").encode(), other.encode())
