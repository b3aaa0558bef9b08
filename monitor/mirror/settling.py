"""Sending a batch of which some points may be bad: halved until each bad one stands alone."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from monitor.mirror.refusing import RefusedError, UnreachableError
from monitor.mirror.sending import Send

MOST_REQUESTS: Final = 400
"""Requests spent on one batch; what is left of it comes with the next."""


@dataclass
class Settled:
    """How far a batch is settled: its first ``done`` lines are taken, or refused one by one."""

    done: int = 0
    refused: list[tuple[int, str]] = field(default_factory=list)
    failure: UnreachableError | None = None


def settle(lines: Sequence[str], send: Send, most: int = MOST_REQUESTS) -> Settled:
    """Send lines so that a bad one keeps no other from arriving.

    What was taken already may be sent again: the same point twice is one point. A line is
    set aside where the answer says that a point is bad, or where others are taken; a server
    that takes nothing at all and does not say why has no bad points, it is out of order.
    """
    found = Settled()
    accepted, clear, last = False, False, ""
    waiting = [(0, len(lines))] if lines else []
    for _ in range(most):
        if not waiting:
            break
        begin, end = waiting.pop()
        try:
            send(lines[begin:end])
        except UnreachableError as failure:
            found.failure = failure
            break
        except RefusedError as refusal:
            clear, last = clear or refusal.of_point, refusal.reason
            if end - begin > 1:
                middle = (begin + end) // 2
                waiting += [(middle, end), (begin, middle)]
                continue
            found.refused.append((begin, refusal.reason))
        else:
            accepted = True
        found.done = end
    if found.refused and not accepted and not clear:
        return Settled(failure=UnreachableError(f"it refuses everything: {last}"))
    return found
