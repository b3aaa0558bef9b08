"""Devices that an account knows: each has signed in to it before, and can show it.

What a device keeps opens nothing. It is signed with the hash of the account's password, so it
needs no file here, cannot be made by anybody else, and ends with the password.
"""

import hashlib
import hmac
import secrets
from typing import Final

from monitor.access.passwords import NOBODYS
from monitor.access.slowing import Source

LASTS_S: Final = 400 * 86_400  # RFC 6265bis, 5.5: a browser keeps none longer (from memory)
_BYTES: Final = 16


def new_device(stored: str | None, person: str) -> str:
    """Return what a device is given that has just signed in with the password of a hash."""
    nonce = secrets.token_hex(_BYTES)
    return f"{nonce}.{_signature(stored, person, nonce)}"


def known_device(stored: str | None, person: str, shown: str) -> Source | None:
    """Return the source that a device is to this account, None where it never signed in."""
    nonce, _, signature = shown.partition(".")
    wanted = _signature(stored, person, nonce)
    same = hmac.compare_digest(signature.encode("utf-8", "replace"), wanted.encode())
    return Source(f"device {nonce}", known=True) if same and stored else None


def device_name(person: str) -> str:
    """Return the end of the name of a device's cookie: one for each person who signs in there."""
    return f"device-{hashlib.sha256(person.encode()).hexdigest()[:8]}"


def _signature(stored: str | None, person: str, nonce: str) -> str:
    told = f"device\0{person}\0{nonce}".encode("utf-8", "replace")
    return hmac.new((stored or NOBODYS).encode(), told, hashlib.sha256).hexdigest()
