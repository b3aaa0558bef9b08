"""The languages other than English, each a translator's file, read when first asked for."""

from collections.abc import Mapping
from functools import cache
from typing import Final

from monitor.phrase import LANGUAGES, Phrase, Translate, in_english
from monitor.resources import dashboards_dir

ENGLISH: Final = "en"


@cache
def catalogue(language: str) -> Mapping[str, str]:
    """Return the messages of a language by their English; none for English itself.

    References
    ----------
    GNU gettext manual, The Format of PO Files.
    """
    if language == ENGLISH or language not in LANGUAGES:
        return {}
    import polib  # noqa: PLC0415  # a farm that speaks English reads no such file

    entries = polib.pofile(str(dashboards_dir() / "languages" / f"{language}.po"))
    return {each.msgid: each.msgstr for each in entries if each.msgstr and not each.fuzzy}


def translator(language: str) -> Translate:
    """Return what turns English messages into those of a language, once it is asked to."""
    if language == ENGLISH:
        return in_english
    return lambda message: catalogue(language).get(message, message)


def in_language(text: str, language: str) -> str:
    """Return a text as a person of a language reads it; plain text stays as it is."""
    return text.spoken(translator(language)) if isinstance(text, Phrase) else text


def preferred(accept: str) -> str | None:
    """Return the language that a browser likes best of those spoken here; None where none.

    References
    ----------
    RFC 9110, 12.5.4, Accept-Language: language ranges with weights from 0 to 1.
    """
    best, weight = None, 0.0
    for part in accept.split(",")[:20]:
        wanted, _, quality = part.partition(";")
        language = wanted.strip().lower().partition("-")[0]
        try:
            liked = float(quality.partition("=")[2]) if quality else 1.0
        except ValueError:
            continue
        if language in LANGUAGES and liked > weight:
            best, weight = language, liked
    return best
