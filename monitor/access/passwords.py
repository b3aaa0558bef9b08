"""Passwords: how they are hashed and compared, and which are refused.

References
----------
OWASP password storage cheat sheet: argon2id with 19 MiB, two passes, one lane. OWASP ASVS
5.0, V6.2: eight characters or more, no rule of composition, none that is common (both from
memory). The list of common ones is the 30,000 of ``zxcvbn``.
"""

import contextlib
import ctypes
import functools
import gc
import re
import sys
from collections.abc import Iterable
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from argon2 import PasswordHasher

AT_LEAST: Final = 8
AT_MOST: Final = 256
_MEMORY_KIB: Final = 19 * 1024
_PASSES: Final = 2
_LANES: Final = 1
_MMAP_THRESHOLD: Final = -3  # mallopt(3): an area over this size goes back when it is freed,
_GIVEN_BACK_OVER: Final = 8 << 20  # or each thread that made a hash would keep its 19 MiB
NOBODYS: Final = (
    "$argon2id$v=19$m=19456,t=2,p=1$KtD6yrIGM0NYwX4Vnmckog$"
    "8TWK9yBwqzoqiupkkaTqQq1bDoSrY+LIqJe8sZk1c9M"
)
"""What is compared where there is no such account: it takes as long, and the answer is no."""


@functools.cache
def _hasher() -> "PasswordHasher":
    from argon2 import PasswordHasher  # noqa: PLC0415 - only who signs in needs it

    with contextlib.suppress(AttributeError, OSError):  # glibc's alone
        ctypes.CDLL(None).mallopt(_MMAP_THRESHOLD, _GIVEN_BACK_OVER)
    return PasswordHasher(time_cost=_PASSES, memory_cost=_MEMORY_KIB, parallelism=_LANES)


def hashed(password: str) -> str:
    """Return the argon2id hash of a password, with its salt and figures."""
    return _hasher().hash(password)


def fits(stored: str | None, password: str) -> bool:
    """Return whether a password is the one of a hash; without one it takes as long, and is not."""
    from argon2.exceptions import InvalidHashError, VerificationError  # noqa: PLC0415 - as above

    try:
        same = _hasher().verify(stored or NOBODYS, password)
    except (VerificationError, InvalidHashError):
        return False
    return same and bool(stored)


def refused(password: str, own_words: Iterable[str] = ()) -> str:
    """Return why a new password is refused, as a sentence; empty where it will do.

    Parameters
    ----------
    password : str
        As typed: nothing is cut off or changed.
    own_words : iterable of str
        Names that anybody would try first: the farm's, the person's.
    """
    if len(password) < AT_LEAST:
        return f"A password has at least {AT_LEAST} characters; three or four words do well."
    if len(password) > AT_MOST:
        return f"A password has at most {AT_MOST} characters."
    if _is_common(password) or _only_names(password, own_words):
        return "That is among the first that anybody would try: choose another."
    return ""


def _only_names(password: str, own_words: Iterable[str]) -> bool:
    """Return whether a password is a known name, or one with figures and marks around it."""
    bare = re.sub(r"[\W\d_]+", "", password.casefold())
    known = {re.sub(r"[\W\d_]+", "", each.casefold()) for each in ("cormwatch", *own_words)}
    return len(set(password)) == 1 or bare in known - {""}


def _is_common(password: str) -> bool:
    """Return whether a list of common ones has it; the list goes again, being some megabytes."""
    from zxcvbn.frequency_lists import FREQUENCY_LISTS  # noqa: PLC0415 - large, and seldom needed

    found = password.lower() in FREQUENCY_LISTS["passwords"]
    for name in [each for each in sys.modules if each.partition(".")[0] == "zxcvbn"]:
        del sys.modules[name]
    del FREQUENCY_LISTS
    gc.collect()
    with contextlib.suppress(AttributeError, OSError):
        ctypes.CDLL(None).malloc_trim(0)
    return found
