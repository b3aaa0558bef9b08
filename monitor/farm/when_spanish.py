"""Times in Spanish words, as the English words that ``when`` reads: ``"ayer a las 16:00"``."""

import re
import unicodedata
from collections.abc import Mapping
from typing import Final

_HACE = re.compile(r"hace\s+(.+)")
_ONE = re.compile(r"una?\s+")
_DAYS: Final[Mapping[str, str]] = {
    "ahora": "now", "hoy": "today", "ayer": "yesterday", "manana": "tomorrow",
    "lunes": "monday", "martes": "tuesday", "miercoles": "wednesday", "jueves": "thursday",
    "viernes": "friday", "sabado": "saturday", "domingo": "sunday",
}  # fmt: skip
_NAMED = re.compile(rf"(?:el\s+)?({'|'.join(_DAYS)})\b(?:\s+a\s+las?(?=\s))?(.*)")
_SPANS: Final[Mapping[str, str]] = {
    "segundo": "s", "segundos": "s", "minuto": "min", "minutos": "min", "hora": "h", "horas": "h",
    "dia": "d", "dias": "d", "semana": "week", "semanas": "weeks",
}  # fmt: skip
_SPAN = re.compile(rf"\b({'|'.join(_SPANS)})$")


def in_english(words: str) -> str:
    """Return small letters in the words of ``when``: English stays as it is.

    An accent may be left out, as on a keyboard that has none.
    """
    bare = "".join(
        each for each in unicodedata.normalize("NFD", words) if not unicodedata.combining(each)
    )
    if ago := _HACE.fullmatch(bare):
        span = _ONE.sub("1 ", ago[1], count=1) if _ONE.match(ago[1]) else ago[1]
        return f"{_SPAN.sub(lambda found: _SPANS[found[1]], span)} ago"
    if named := _NAMED.fullmatch(bare):
        return f"{_DAYS[named[1]]}{named[2]}"
    return words
