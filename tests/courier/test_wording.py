"""Texts as a service will take them."""

from hypothesis import given
from hypothesis import strategies as st

from monitor.courier.wording import MOST_PARTS, Limits, clean, clean_line, fit, short_form, size


def test_control_and_half_characters_are_removed() -> None:
    """No NUL, escape or lone surrogate leaves; line ends stay."""
    assert clean("a\x00\x1b[31m\r\nb\ud800 °") == "a[31m\nb\N{REPLACEMENT CHARACTER} °"
    assert clean_line("two\nlines\t here") == "two lines here"


def test_a_short_message_is_one_part_as_it_is() -> None:
    """Marks of other formats are plain characters and stay."""
    assert fit("Cooler", "# 1 <back> *x*", Limits(1000, 100)) == [("Cooler", "# 1 <back> *x*")]


def test_a_six_kilobyte_list_is_split_with_the_title_counted() -> None:
    """Each part fits with its title, is numbered, and no line is lost or cut."""
    lines = [f"batch {number}: 120 stems in the cooler" for number in range(170)]
    parts = fit("Held stems", "\n".join(lines), Limits(1024, 0))
    assert len(parts) == 6  # 6.1 kB in kilobytes less title and number
    assert all(size(part.title) + size(part.body) + 2 <= 1024 for part in parts)
    assert parts[0].title == "Held stems (1/6)"
    assert "\n".join(part.body for part in parts).split("\n") == lines


def test_what_is_far_too_long_is_cut_and_says_so() -> None:
    """No more than eight parts go out; the last ends in dots."""
    parts = fit("t", "word " * 10_000, Limits(500, 50))
    assert len(parts) == MOST_PARTS
    assert parts[-1].body.endswith("...")


def test_the_short_form_is_the_gist_in_plain_letters() -> None:
    """Title and first line, without any mark a service might stumble over."""
    assert short_form("#1 <Cooler>", "Air 45 °F & rising\nmore") == (
        "1 Cooler",
        "Air 45 F rising",
    )


@given(st.text(max_size=300), st.text(max_size=3000), st.integers(60, 400), st.integers(0, 100))
def test_every_part_fits_whatever_the_text(title: str, body: str, most: int, top: int) -> None:
    """Title and body together stay within the service's limits."""
    for part in fit(title, body, Limits(most, top)):
        assert size(part.title) + size(part.body) <= most
        assert top == 0 or size(part.title) <= max(top, 9)
