"""Writing lines to the server: one request in flight, compressed, each with a deadline."""

import json
from collections.abc import Sequence
from typing import Final, Protocol

from influxdb_client import InfluxDBClient, WritePrecision
from influxdb_client.client.write_api import SYNCHRONOUS
from influxdb_client.rest import ApiException
from urllib3.exceptions import HTTPError

from monitor.farm import Mirror
from monitor.mirror.refusing import UnreachableError, meaning

CONNECT_MS: Final = 5_000
ANSWER_MS: Final = 30_000


class Send(Protocol):
    """What takes lines: returns when they are on the other side."""

    def __call__(self, lines: Sequence[str]) -> None:
        """Write the lines.

        Raises
        ------
        RefusedError
            If something in them is refused.
        UnreachableError
            If nothing can be written now.
        """


class Sender:
    """A connection to the server; used from one thread."""

    def __init__(self, mirror: Mirror) -> None:
        self._mirror = mirror
        token = mirror.token
        self._client = InfluxDBClient(
            mirror.url, token=None if token is None else token.get_secret_value(), org=mirror.org,
            timeout=(CONNECT_MS, ANSWER_MS), enable_gzip=True, retries=False,
        )  # fmt: skip
        self._write = self._client.write_api(write_options=SYNCHRONOUS)

    def __call__(self, lines: Sequence[str]) -> None:
        """Write the lines; see ``Send``."""
        body = "\n".join(lines).encode()
        mirror = self._mirror
        try:
            self._write.write(mirror.bucket, mirror.org, body, write_precision=WritePrecision.MS)
        except ApiException as failure:
            status, headers = int(failure.status or 0), failure.headers or {}
            if not status:
                raise UnreachableError(str(failure.reason)) from failure
            raise meaning(
                status, _said(failure.body or ""), headers.get("Retry-After")
            ) from failure
        except (HTTPError, OSError) as failure:
            raise UnreachableError(f"no answer ({type(failure).__name__})") from failure
        self._check_taken()

    def _check_taken(self) -> None:
        """Make sure that the answer is one to a write: it has nothing to say.

        A portal that wants somebody to sign in answers 200 to everything, with a page.
        """
        answer = self._client.api_client.last_response
        if answer.data:
            raise UnreachableError(f"it answers {answer.status} with a page: is it the server?")

    def close(self) -> None:
        """Close the connection."""
        self._client.close()


def _said(body: str | bytes) -> str:
    """Return the message of an answer: of its JSON, or as it is."""
    text = body.decode("utf-8", "replace") if isinstance(body, bytes) else body
    try:
        found = json.loads(text)
    except ValueError:
        return "" if text.lstrip().startswith("<") else text
    if not isinstance(found, dict):
        return text
    return str(found.get("error") or found.get("message") or text)
