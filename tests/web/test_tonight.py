"""The outlook on the pages and for programs."""

from tests.web.test_pages import words
from tests.web.visiting import Visitor


def test_the_page_tells_every_tunnel(visitor: Visitor) -> None:
    """Each tunnel has its sentence; one without humidity says so instead of a figure."""
    told = words(visitor.get("/tonight").text)
    assert "Tunnel 1, tonight: " in told
    assert "Tunnel 2, tonight: no outlook, for its humidity has not been heard" in told


def test_the_first_page_says_what_there_is_to_do(visitor: Visitor) -> None:
    """The first page has a section of tonight that leads to the whole of it."""
    page = visitor.get("/").text
    assert 'id="tonight"' in page
    assert 'href="/tonight"' in page


def test_programs_are_told_the_same(visitor: Visitor) -> None:
    """The answer to programs names each place, what is missing, and when it was judged."""
    told = visitor.get("/api/tonight").json()
    nights = {each["place"]: each for each in told["nights"]}
    assert set(nights) == {"tunnel-1", "tunnel-2"}
    assert nights["tunnel-2"]["missing"] == "humidity_old"
    assert nights["tunnel-2"]["least"] is None
    one = nights["tunnel-1"]  # at noon, 16:24 being sunset: four hours and a half before
    assert one["evening"] == "2026-11-25"
    assert one["missing"] == "too_early"
