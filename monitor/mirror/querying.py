"""Reading back what a server holds: InfluxQL over ``/query``, which servers answer from 1.x on.

A server that only takes line protocol, and answers other query languages, is no source to
compare with or to pull from; it says so.
"""

import gzip
import json
import zlib
from collections.abc import Iterator
from http.client import HTTPException
from typing import Any, Final
from urllib.error import HTTPError, URLError
from urllib.parse import urlencode
from urllib.request import Request, urlopen

import numpy as np

from monitor.errors import MirrorError
from monitor.farm import Mirror
from monitor.mirror.naming import FIELDS, FLAGS
from monitor.model import Channel
from monitor.store import Series

PAGE: Final = 20_000
DEADLINE_S: Final = 120.0
LAST_MS: Final = 9_223_372_036_854
"""The last time such a server knows: nanoseconds in 63 bits. [ms]"""
_NO_QUERY: Final = (
    "the server at {url} does not answer InfluxQL at /query: readings can be copied to it, not "
    "compared or pulled from here"
)


class Query:
    """Asks a server; used from one thread. ``site`` is the farm asked about."""

    def __init__(self, mirror: Mirror, site: str | None = None, page: int = PAGE) -> None:
        self._mirror = mirror
        self._page = page
        self.site = site or mirror.site
        self._where = f'"site" = {literal(self.site)}'
        self._source = f'"{mirror.measurement}"'

    def ask(self, text: str) -> list[dict[str, Any]]:
        """Return the series that a query gives.

        Raises
        ------
        MirrorError
            If the server cannot be reached, refuses, or knows no such query.
        """
        mirror = self._mirror
        body = urlencode({"db": mirror.bucket, "q": text, "epoch": "ms"}).encode()
        request = Request(f"{mirror.url}/query", body, {"Accept-Encoding": "gzip"})  # noqa: S310 - checked: http or https
        if mirror.token is not None:
            token = f"Token {mirror.token.get_secret_value()}"
            request.add_unredirected_header("Authorization", token)
        try:
            with urlopen(request, timeout=DEADLINE_S) as answer:  # noqa: S310 - as above
                raw = answer.read()
                if answer.headers.get("Content-Encoding") == "gzip":
                    raw = gzip.decompress(raw)
            return _series(json.loads(raw), mirror.url)
        except HTTPError as failure:
            failure.close()
            if failure.code in (400, 404, 405):
                raise MirrorError(_NO_QUERY.format(url=mirror.url)) from failure
            raise MirrorError(f"the mirror at {mirror.url} answers {failure.code}") from failure
        except (URLError, OSError, HTTPException, EOFError, zlib.error) as failure:
            why = getattr(failure, "reason", failure)
            raise MirrorError(f"the mirror at {mirror.url} does not answer: {why}") from failure
        except ValueError as failure:
            raise MirrorError(_NO_QUERY.format(url=mirror.url)) from failure

    def channels(self) -> dict[Channel, int]:
        """Return the site's channels, and how many readings there are of each."""
        there = {row[0] for row in self._rows(f"SHOW FIELD KEYS FROM {self._source}", 2)}
        wanted = {name: quantity for quantity, name in FIELDS.items() if name in there}
        if not wanted:
            return {}
        counts = ", ".join(f'count("{name}") AS "{name}"' for name in wanted)
        asked = f'SELECT {counts} FROM {self._source} WHERE {self._where} GROUP BY "sensor"'
        found: dict[Channel, int] = {}
        for series in self.ask(asked):
            for name, n in zip(series["columns"], series["values"][0], strict=True):
                if name in wanted and n:
                    found[Channel(series["tags"]["sensor"], wanted[name])] = n
        return found

    def pages(
        self, channel: Channel, since_ms: int = 0, until_ms: int = LAST_MS
    ) -> Iterator[Series]:
        """Yield a channel's readings in a span of time, in order, a page at a time. [ms]

        A time that stands there twice, under two places, is given twice within a page.
        """
        field, flags = FIELDS[channel.quantity], FLAGS[channel.quantity]
        head = (
            f'SELECT "{field}", "{flags}" FROM {self._source} WHERE {self._where}'
            f' AND "sensor" = {literal(channel.sensor)}'
        )
        while True:
            span = f" AND time >= {since_ms}ms AND time < {min(until_ms, LAST_MS)}ms"
            rows = self._rows(f"{head}{span} LIMIT {self._page}", 3)
            kept = [row for row in rows if row[1] is not None]
            if kept:
                yield _as_series(kept)
            if not rows:  # a server may give fewer than it was asked for, and have more
                return
            since_ms = int(rows[-1][0]) + 1

    def _rows(self, text: str, width: int) -> list[list[Any]]:
        rows = [row for series in self.ask(text) for row in series.get("values", [])]
        if any(len(row) != width for row in rows):
            raise MirrorError(_NO_QUERY.format(url=self._mirror.url))
        return rows


def literal(text: str) -> str:
    """Return a text as InfluxQL takes it in a condition."""
    escaped = text.replace("\\", "\\\\").replace("'", "\\'").replace("\n", "\\n")
    return f"'{escaped}'"


def _series(told: Any, url: str) -> list[dict[str, Any]]:  # noqa: ANN401 - whatever JSON a server sends
    if not isinstance(told, dict) or "results" not in told:
        raise MirrorError(_NO_QUERY.format(url=url))
    found: list[dict[str, Any]] = []
    for result in told["results"]:
        if "error" in result:
            raise MirrorError(f"the mirror at {url} answers: {str(result['error'])[:300]}")
        found += result.get("series", [])
    return found


def _as_series(rows: list[list[Any]]) -> Series:
    at_ms, values, flags = zip(*rows, strict=True)
    return Series(
        np.array(at_ms, np.int64),
        np.array(values, np.float64),
        np.array([each or 0 for each in flags], np.int64),
    )
