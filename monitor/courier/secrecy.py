"""What a service says of a failure, without anything of the address in it."""

import re
from typing import Final
from urllib.parse import parse_qsl, unquote, urlsplit

from pydantic import SecretStr

LONGEST: Final = 200
HIDDEN: Final = "(address)"
_LEAST: Final = 3  # shorter pieces are words, ports or nothing
_CUTS = re.compile(r"[/?&=@:,;#+\s]+")


def redacted(text: str, address: SecretStr) -> str:
    """Return a text in which every piece of an address is hidden.

    The host goes too: for some services it is the key.
    """
    for piece in sorted(_pieces(address.get_secret_value()), key=len, reverse=True):
        text = re.sub(re.escape(piece), HIDDEN, text, flags=re.IGNORECASE)
    return " ".join(text.split())[:LONGEST]


def _pieces(url: str) -> set[str]:
    _, _, rest = url.partition("://")
    place, _, query = rest.partition("?")
    found = set(_CUTS.split(place)) | {value for _, value in parse_qsl(query)}
    for value in list(found):
        found |= set(_CUTS.split(value))
    found |= {unquote(piece) for piece in found} | {rest, url, _host(url)}
    return {piece for piece in found if len(piece) >= _LEAST}


def _host(url: str) -> str:
    try:
        return urlsplit(url).hostname or ""
    except ValueError:
        return ""
