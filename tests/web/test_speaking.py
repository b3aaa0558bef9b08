"""Pages in another language than English."""

import re

import pytest

from monitor.access.accounts import Account, accounts_of
from monitor.access.passwords import hashed
from monitor.farm import Farm
from monitor.web.app import create_app
from tests.web.desk import SmallDesk
from tests.web.signing import AWAY, PASSWORD, Browser
from tests.web.test_pages import PAGES, words

SPANISH = {"accept-language": "es-MX,es;q=0.9,en;q=0.5"}
# Among the commonest words of English (from memory), those that are no word of Spanish.
ENGLISH = re.compile(
    r"\b(the|and|of|to|is|are|was|were|it|its|for|on|with|from|by|at|this|that|there|here|not|"
    r"nothing|nobody|since|until|about|has|have|been|be|or|as|an|if|when|where|which|what|who|"
    r"your|you|their|they|now|all|every|each|day|days|week|ago|between|over|out|than|then|"
    r"place|sensor is|air|soil|batch|batches|stems|known|seen|first|look|alarm|open|told)\b",
    re.IGNORECASE,
)
_QUOTED = re.compile(r"<(\w+)[^>]* lang=\"en\"[^>]*>.*?</\1>", re.DOTALL)


def own_words(farm: Farm) -> set[str]:
    """Return what the grower wrote, which stands as it was written: names, places, sources."""
    own = {each.hangs for each in farm.sensors.values()}
    own |= {each.name for each in farm.sensors.values()}
    own |= {each.name for each in farm.places.values()}
    bands = [each for place in farm.places.values() for each in place.bands.values()]
    for crop in farm.crops.values():
        bands += [each for stage in crop.stages.values() for each in stage.bands.values()]
        own |= {each.time_source for each in crop.stages.values()}
    own |= {each.ideal.source for each in bands if each.ideal is not None}
    own |= {each.harm.source for each in bands if each.harm is not None}
    for place in farm.places.values():
        card = place.card
        own |= {*card.steps, card.spare} if card is not None else set()
    return own - {None, ""}


def english_left(page: str, farm: Farm) -> list[str]:
    """Return the English words that a page's reader meets, with some of what stands around.

    What is marked as English, and what the grower wrote, is left out.
    """
    told = words(_QUOTED.sub(" ", page))
    for own in sorted(own_words(farm), key=len, reverse=True):
        told = told.replace(re.sub(r"\s+", " ", own), "…")
    return [told[max(0, each.start() - 30) : each.end() + 30] for each in ENGLISH.finditer(told)]


@pytest.mark.parametrize("path", PAGES)
def test_a_browser_that_likes_spanish_is_answered_in_spanish(desk: SmallDesk, path: str) -> None:
    """The page says that it is Spanish, and no English is left on it."""
    page = Browser(create_app(desk)).get(path, headers=SPANISH).text
    assert '<html lang="es">' in page
    assert "Precauciones" in page
    assert english_left(page, desk.farm()) == []


@pytest.mark.parametrize(
    "path", ["/batches/1/report", "/batches/2/report", "/batches/1/beside", "/year", "/year/1999"]
)
def test_a_sheet_is_printed_in_spanish(desk: SmallDesk, path: str) -> None:
    """What one prints says that it is Spanish, and no English is left on it."""
    sheet = Browser(create_app(desk)).get(path, headers=SPANISH).text
    assert '<html lang="es">' in sheet
    assert "Un segundo par de ojos" in sheet
    assert english_left(sheet, desk.farm()) == []


def test_a_person_is_answered_in_the_own_language(own_desk: SmallDesk) -> None:
    """Whoever signs in is spoken to as the people file says, whatever the browser likes."""
    people = '[[person]]\nid = "wren"\nname = "Wren"\nrole = "help"\nlanguage = "es"\n'
    (own_desk.folder / "people.toml").write_text(people, encoding="utf-8")
    own_desk.judge()
    accounts_of(own_desk.folder).keep("wren", Account(hashed(PASSWORD)))
    browser = Browser(create_app(own_desk), AWAY)
    assert '<html lang="en">' in browser.get("/sign-in").text
    browser.sign_in("wren", PASSWORD)
    assert '<html lang="es">' in browser.get("/").text
