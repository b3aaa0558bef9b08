"""Every text is said in every language, with the same values in it."""

import re

import pytest

from monitor.languages import catalogue, in_language, preferred
from monitor.phrase import LANGUAGES, Capital, Phrase, packed, together, unpacked
from monitor.resources import dashboards_dir
from tests.texts import texts

OTHERS = sorted(set(LANGUAGES) - {"en"})
# Named and percent placeholders, braces, and markup: what a translation must carry over.
PARTS = re.compile(r"%\(\w+\)s|%%|\{\w*(?=[:}])|</?\w+[^>]*>")


@pytest.mark.parametrize("language", OTHERS)
def test_every_text_is_translated(language: str) -> None:
    """A new text fails here until its translation stands in the language's file.

    ``python -m tests.texts`` adds it there, to be translated.
    """
    known = catalogue(language)
    assert [f"{where}: {each}" for each, where in texts().items() if each not in known] == []


@pytest.mark.parametrize("language", OTHERS)
def test_nothing_is_translated_that_nobody_says(language: str) -> None:
    """A text that left the program leaves the translator's file: see ``tests.texts``."""
    assert sorted(set(catalogue(language)) - set(texts(wordless=True)) - {""}) == []


@pytest.mark.parametrize("language", OTHERS)
def test_a_translation_carries_the_same_values_and_markup(language: str) -> None:
    """No value is lost, none is made up, and no quote could end an attribute early."""
    wrong = [
        english
        for english, other in catalogue(language).items()
        if sorted(PARTS.findall(english)) != sorted(PARTS.findall(other))
        or ('"' in other and "<" not in other and "{" not in english)
    ]
    assert wrong == []


def test_a_phrase_is_its_english_and_remembers_its_parts() -> None:
    """A phrase equals its text; each of its parts is told in the other language."""
    spanish = {"{place} is warm": "{place}: calor", "today": "hoy", "since {day}": "desde {day}"}
    warm = Phrase("{place} is warm", place="Tunnel {2}")
    told = together([warm, "", Capital(Phrase("since {day}", day=Phrase("today")))], ". ")
    assert told == "Tunnel {2} is warm. Since today"
    assert told.spoken(lambda each: spanish.get(each, each)) == "Tunnel {2}: calor. Desde hoy"
    again = unpacked(packed(told))
    assert again == told
    assert again.spoken(lambda each: spanish.get(each, each)) == "Tunnel {2}: calor. Desde hoy"


def test_an_error_keeps_its_phrase() -> None:
    """The text of an error is the phrase that it was raised with."""
    assert in_language(str(ValueError(Phrase("not known"))), "es") == catalogue("es")["not known"]


@pytest.mark.parametrize(
    ("accept", "language"),
    [
        ("es-MX,es;q=0.9,en;q=0.8", "es"), ("en-US,en;q=0.5,es;q=0.4", "en"),
        ("fr-CA, es;q=0.3", "es"), ("fr", None), ("es;q=0", None), ("es;q=much", None), ("", None),
    ],
)  # fmt: skip
def test_a_browser_is_answered_in_what_it_likes_best(accept: str, language: str | None) -> None:
    """Of the languages spoken here the one of the greatest weight; none of weight zero.

    Weights as RFC 9110, 12.4.2, has them.
    """
    assert preferred(accept) == language


def test_every_text_of_a_script_is_brought_along() -> None:
    """What a script speaks stands in the block that a page of another language carries."""
    brought = (dashboards_dir() / "templates" / "script_texts.html").read_text("utf-8")
    scripts = [each.read_text("utf-8") for each in (dashboards_dir() / "static").glob("*.js")]
    spoken = {each for script in scripts for each in re.findall(r'speak\("([^"]+)"', script)}
    assert spoken
    assert [each for each in sorted(spoken) if f'"{each}": {{{{ _("{each}")' not in brought] == []
