"""One try to reach a web address, in a thread of its own; no address is ever in what it says."""

import json
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from email.message import Message
from typing import IO, Any, Final
from urllib.error import HTTPError
from urllib.request import HTTPRedirectHandler, Request, build_opener

from monitor.farm import Watcher

DEADLINE_S: Final = 10.0
_GOOD: Final = range(200, 300)


@dataclass
class Try:
    """What came of a try: None while it runs, ``""`` where it arrived, else why not."""

    result: str | None = None


Post = Callable[[Watcher, Mapping[str, Any]], Try]
"""What begins a try, and returns at once."""


class _Nowhere(HTTPRedirectHandler):
    """Follows no redirection: a secret goes to the address that was given, or nowhere."""

    def redirect_request(  # noqa: PLR0917 - as the library calls it
        self, req: Request, fp: IO[bytes], code: int, msg: str, headers: Message, newurl: str
    ) -> None:  # fmt: skip
        """Refuse."""
        del req, fp, code, msg, headers, newurl


def post(watcher: Watcher, body: Mapping[str, Any]) -> Try:
    """Begin to send a heartbeat; the thread ends with the process."""
    flight = Try()
    request = _request(watcher, body)
    threading.Thread(
        target=_send, args=(request, flight), name="heartbeat", daemon=True
    ).start()  # fmt: skip
    return flight


def _request(watcher: Watcher, body: Mapping[str, Any]) -> Request:
    url = watcher.heartbeat_url.get_secret_value() if watcher.heartbeat_url else ""
    headers = {"Content-Type": "application/json", "User-Agent": "cormwatch"}
    if watcher.secret is not None:
        headers["Authorization"] = f"Bearer {watcher.secret.get_secret_value()}"
    data = json.dumps(body, allow_nan=False).encode() if watcher.method == "POST" else None
    return Request(url, data=data, headers=headers, method=watcher.method)  # noqa: S310 - checked when read


def _send(request: Request, flight: Try) -> None:
    try:
        with build_opener(_Nowhere).open(request, timeout=DEADLINE_S) as answer:
            good = answer.status in _GOOD
            flight.result = "" if good else f"the answer was {answer.status}"
    except HTTPError as failure:
        flight.result = f"the answer was {failure.code}"
        failure.close()
    except OSError as failure:
        cause = getattr(failure, "reason", failure)
        flight.result = getattr(cause, "strerror", None) or type(cause).__name__
    except Exception as defect:  # noqa: BLE001 - whatever a server answers must not go unsaid
        flight.result = type(defect).__name__
