"""What a device shows that has signed in before: it opens nothing, and waits for nobody."""

import pytest

from monitor.access.devices import device_name, known_device, new_device

STORED = "$argon2id$v=19$m=19456,t=2,p=1$made$up"


def test_a_device_is_known_to_its_account_and_password_only() -> None:
    """Another person's, another password's or an empty account's device is a stranger."""
    shown = new_device(STORED, "robin")
    known = known_device(STORED, "robin", shown)
    assert known is not None
    assert known.known
    assert known_device(STORED, "wren", shown) is None
    assert known_device(STORED + "x", "robin", shown) is None
    assert known_device(None, "robin", shown) is None
    assert known_device(None, "robin", new_device(None, "robin")) is None


@pytest.mark.parametrize("shown", ["", ".", "a.b", "\ud800.\ud800", "x" * 5000])
def test_what_is_made_up_is_no_device(shown: str) -> None:
    """Whatever a browser brings, it is not known by it."""
    assert known_device(STORED, "robin", shown) is None


def test_two_devices_are_slowed_apart() -> None:
    """Each sign-in is a device of its own, and each person has a name for it."""
    first, second = (known_device(STORED, "robin", new_device(STORED, "robin")) for _ in range(2))
    assert first != second
    assert device_name("robin") != device_name("wren")
