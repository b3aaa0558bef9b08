"""What a server's answer to a write means: this point is bad, or nothing can be written now."""

from typing import Final

from monitor.errors import MirrorError

_POINT: Final = ("partial write", "unable to parse", "field type conflict", "retention policy")
_WHOLE: Final = ("max-series", "max-values", "limit exceeded", "timeout")
_ONE_OF_THEM: Final = frozenset({400, 413, 422})
"""Bad request, too large, unprocessable: a smaller request may pass."""
_WORDS: Final = {
    401: "it does not accept the token",
    403: "the token may not write there",
    404: "there is no such bucket or database there",
    429: "it is asked too often",
    503: "it is not ready",
}
LONGEST: Final = 300


class RefusedError(MirrorError):
    """Something in what was sent is refused; ``of_point`` where the answer says it is a point."""

    def __init__(self, reason: str, *, of_point: bool) -> None:
        super().__init__(reason)
        self.reason = reason
        self.of_point = of_point


class UnreachableError(MirrorError):
    """Nothing can be written now; ``after_s`` is how long the server asks to wait. [s]"""

    def __init__(self, reason: str, after_s: float = 0.0) -> None:
        super().__init__(reason)
        self.reason = reason
        self.after_s = after_s


def meaning(status: int, text: str, retry_after: str | None = None) -> MirrorError:
    """Return the failure that an answer stands for.

    Parameters
    ----------
    status : int
        The answer's code.
    text : str
        What the server says.
    retry_after : str, optional
        The header of that name; a date in it is not read.
    """
    said = " ".join(text.split())[:LONGEST]
    lowered = said.lower()
    if status in _ONE_OF_THEM and not any(each in lowered for each in _WHOLE):
        return RefusedError(said or f"answer {status}", of_point=any(w in lowered for w in _POINT))
    told = _WORDS.get(status, "it fails" if status >= 500 else "it does not take this")  # noqa: PLR2004 - the server's own errors
    after_s = float(retry_after) if retry_after and retry_after.strip().isdigit() else 0.0
    return UnreachableError(f"{told} (answer {status}{': ' + said if said else ''})", after_s)
