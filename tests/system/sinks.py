"""Where notices end in the tests: a real mail server, a real HTTP service, a mute one."""

import json
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from email import message_from_bytes, policy
from email.message import EmailMessage
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from aiosmtpd.controller import Controller
from aiosmtpd.handlers import Message as Keeping
from aiosmtpd.smtp import SMTP
from pydantic import SecretStr


class Mailbox(Keeping):
    """Keeps each message that a mail server takes."""

    def __init__(self) -> None:
        super().__init__()
        self.mails: list[EmailMessage] = []
        self.came_s: list[float] = []
        self.came = threading.Event()

    def prepare_message(self, session: Any, envelope: Any) -> Any:  # noqa: ANN401 - untyped library
        """Read a message by today's rules of mail."""
        del session
        return message_from_bytes(envelope.content, policy=policy.default)

    def handle_message(self, message: Any) -> None:  # noqa: ANN401 - untyped library
        """Keep a message."""
        self.mails.append(message)
        self.came_s.append(time.monotonic())
        self.came.set()


class OnFreePort(Controller):
    """A mail server on a port the system picks."""

    def _create_server(self) -> Any:  # noqa: ANN401 - untyped library
        return self.loop.create_server(self._factory_invoker, sock=self.listening)

    def __init__(self, mailbox: Mailbox) -> None:
        self.listening = socket.create_server(("127.0.0.1", 0))
        super().__init__(mailbox, "127.0.0.1", self.listening.getsockname()[1])

    def factory(self) -> SMTP:
        """Return the protocol of one connection."""
        return SMTP(self.handler)


@contextmanager
def mail_server() -> Iterator[tuple[Mailbox, SecretStr]]:
    """Run a mail server; yield its mailbox and an address there."""
    mailbox = Mailbox()
    server = OnFreePort(mailbox)
    server.start()
    yield (
        mailbox,
        SecretStr(f"mailto://127.0.0.1:{server.port}/?from=farm@example.org&to=rue@example.org"),
    )
    server.stop()


@contextmanager
def http_sink() -> Iterator[tuple[list[dict[str, Any]], SecretStr]]:
    """Run an HTTP service; yield what is posted to it, and its address."""
    posts: list[dict[str, Any]] = []

    class Sink(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            posts.append(json.loads(self.rfile.read(int(self.headers["Content-Length"]))))
            self.send_response(200)
            self.end_headers()

        def log_message(self, *_: object) -> None:
            """Print nothing."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Sink)
    running = threading.Thread(target=server.serve_forever, daemon=True)
    running.start()
    yield posts, SecretStr(f"json://127.0.0.1:{server.server_port}/s3cr3thook")
    server.shutdown()
    server.server_close()
    running.join(5)


@contextmanager
def mute_server() -> Iterator[SecretStr]:
    """Yield the address of a mail server that takes connections and never greets."""
    with closing(socket.create_server(("127.0.0.1", 0))) as listening:
        port = listening.getsockname()[1]
        yield SecretStr(f"mailto://127.0.0.1:{port}/?from=farm@example.org&to=rue@example.org")
