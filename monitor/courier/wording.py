"""Texts as a service will take them: plain, whole characters, no longer than it allows."""

import unicodedata
from typing import Final, NamedTuple

MOST_PARTS: Final = 8
SHORT_CHARACTERS: Final = 140
LEAST_ROOM: Final = 40  # bytes of body beside a title; a longer title is cut
_COUNTER: Final = len(" (8/8)")
_PLAIN: Final = frozenset(
    "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 .,:;%()'/-+"
)


class Limits(NamedTuple):
    """How long a service lets a body and a title be; a title of 0 stands in the body."""

    body: int
    title: int


class Part(NamedTuple):
    """One message to hand over."""

    title: str
    body: str


def clean(text: str) -> str:
    """Return a text without control characters and halves of characters."""
    kept = (
        "\N{REPLACEMENT CHARACTER}" if unicodedata.category(each) == "Cs" else each
        for each in text.replace("\r\n", "\n").replace("\r", "\n")
        if each in "\n\t" or unicodedata.category(each) != "Cc"
    )
    return "".join(kept).strip()


def clean_line(text: str) -> str:
    """Return a cleaned text on one line, for a title."""
    return " ".join(clean(text).split())


def size(text: str) -> int:
    """Return a text's length in bytes of UTF-8: no service counts more."""
    return len(text.encode("utf-8", "replace"))


def shortened(text: str, most: int) -> str:
    """Return a text cut to at most so many bytes, with three dots where it was."""
    if size(text) <= most:
        return text
    return text.encode("utf-8", "replace")[: max(most - 3, 0)].decode("utf-8", "ignore") + "..."


def fit(title: str, body: str, limits: Limits) -> list[Part]:
    """Return a message in as many parts as the service needs, the title counted in each.

    At most eight parts: what is longer is cut, and says so.
    """
    title, body = clean_line(title), clean(body)
    longest_title = min(limits.title or limits.body, limits.body - LEAST_ROOM) - _COUNTER
    title = shortened(title, max(longest_title, 0))
    room = max(limits.body - size(title) - _COUNTER - 2, 1)
    bodies = _pieces(body, room)
    if len(bodies) == 1:
        return [Part(title, bodies[0])]
    if len(bodies) > MOST_PARTS:
        bodies = bodies[:MOST_PARTS]
        bodies[-1] = shortened(bodies[-1] + "\n" + "." * room, room)
    return [
        Part(f"{title} ({number}/{len(bodies)})", each)
        for number, each in enumerate(bodies, start=1)
    ]


def short_form(title: str, body: str) -> Part:
    """Return the gist in the plainest letters, for a service that refused the whole."""
    first = clean(body).split("\n", 1)[0]
    return Part(_plain(clean_line(title))[:SHORT_CHARACTERS], _plain(first)[:SHORT_CHARACTERS])


def _plain(text: str) -> str:
    text = unicodedata.normalize("NFKD", text.replace("°", ""))
    text = "".join(each for each in text if not unicodedata.combining(each))
    return " ".join("".join(each if each in _PLAIN else " " for each in text).split())


def _pieces(text: str, room: int) -> list[str]:
    """Cut a text at line ends, else at spaces, else anywhere, into pieces of a size."""
    pieces: list[str] = []
    rest = text
    while size(rest) > room:
        head = rest.encode("utf-8", "replace")[:room].decode("utf-8", "ignore") or rest[:1]
        cut = max(head.rfind("\n"), 0) or max(head.rfind(" "), 0) or len(head)
        pieces.append(rest[:cut].rstrip())
        rest = rest[cut:].lstrip()
    return [*pieces, rest] if rest or not pieces else pieces
