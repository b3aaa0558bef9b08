"""A server of HTTP that gives prepared answers, one after another, whatever it is asked."""

import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, HTTPServer
from typing import NamedTuple

from monitor.farm import Mirror


class Answer(NamedTuple):
    """An answer: its code, its headers, its body."""

    status: int
    body: bytes = b""
    headers: Mapping[str, str] = {}


@contextmanager
def answering(answers: Sequence[Answer]) -> Iterator[Mirror]:
    """Yield the mirror of a server that gives these answers and, from then on, the last."""
    waiting = list(answers)

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            self.rfile.read(int(self.headers.get("Content-Length", 0)))
            answer = waiting.pop(0) if len(waiting) > 1 else waiting[0]
            self.send_response(answer.status)
            for name, value in answer.headers.items():
                self.send_header(name, value)
            self.end_headers()
            self.wfile.write(answer.body)

        def log_message(self, *_what: object) -> None:
            """Say nothing."""

    with HTTPServer(("127.0.0.1", 0), Handler) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        try:
            yield Mirror(f"http://127.0.0.1:{server.server_port}", "farms", "brook")
        finally:
            server.shutdown()
