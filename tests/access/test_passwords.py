"""Passwords: hashed as agreed, refused where anybody would try them first."""

import re

import pytest

from monitor.access.passwords import NOBODYS, fits, hashed, refused


def test_the_figures_are_those_of_the_cheat_sheet() -> None:
    """Hashes are argon2id with 19 MiB, two passes and one lane (OWASP, from memory), salted."""
    one, other = hashed("wet glove 3 am"), hashed("wet glove 3 am")
    assert one.startswith("$argon2id$v=19$m=19456,t=2,p=1$")
    assert one != other
    assert NOBODYS.startswith("$argon2id$v=19$m=19456,t=2,p=1$")


def test_only_the_password_itself_fits() -> None:
    """What is typed is compared whole and as it is: no cut, no change of case."""
    long = "a" * 72 + "tail"
    stored = hashed(long)
    assert fits(stored, long)
    assert not fits(stored, long[:72])
    assert not fits(stored, long.upper())
    assert not fits(stored, f"{long} ")


@pytest.mark.parametrize("stored", [None, "", "not a hash", "$argon2id$v=19$m=1,t=1,p=1$x$y"])
def test_without_a_sound_hash_nothing_fits(stored: str | None) -> None:
    """No account, or a damaged one, lets nobody in."""
    assert not fits(stored, "corms")
    assert not fits(stored, "")


@pytest.mark.parametrize(
    "password", ["password", "PASSWORD", "12345678", "qwertyuiop", "sunshine", "iloveyou",
                 "aaaaaaaa", "cormwatch1", "Brindlewick-2026!", "Robin2026"],
)  # fmt: skip
def test_what_anybody_would_try_first_is_refused(password: str) -> None:
    """Common ones (well-known lists have them all) and the farm's own names will not do."""
    assert "choose another" in refused(password, ("Brindlewick", "robin", "Robin"))


@pytest.mark.parametrize(
    "password", ["wet glove 3am", "        x", "73950184", "zu-spät!", "ранункулюс", "a" * 70 + "b"]
)
def test_any_composition_will_do(password: str) -> None:
    """Eight characters of any kind are enough; a long one is not cut."""
    assert refused(password, ("Brindlewick",)) == ""


def test_a_short_one_is_refused_with_the_reason() -> None:
    """Seven characters are too few, and the sentence says how many are wanted."""
    assert re.search(r"at least 8", refused("seven77"))
    assert re.search(r"at most 256", refused("x1" * 129))
