"""Conditions of the monitor itself, as transitions: what no reading can show."""

from collections.abc import Mapping, Sequence
from typing import Any

from monitor.model import AlarmKey, AlarmKind, Edge, Transition
from monitor.watch import priority


def own_transition(
    kind: AlarmKind,
    edge: Edge,
    now_ms: int,
    *,
    began_ms: int | None = None,
    detail: str = "",
    dark: Sequence[Mapping[str, Any]] = (),
) -> Transition:
    """Return the raising or the return of a condition that the monitor sees in itself.

    Parameters
    ----------
    kind : AlarmKind
        ``STORE_FAILED``, ``BROKER_LOST`` or ``CONFIGURATION_REFUSED``.
    edge : Edge
        Whether it became true, or false again.
    now_ms : int
        When. [ms]
    began_ms : int, optional
        Since when it holds, where that is earlier. [ms]
    detail : str
        What is wrong, in a sentence; no secrets.
    dark : Sequence of Mapping
        The places that nothing is heard from by it, as the watch gives them.
    """
    return Transition(
        key=AlarmKey(kind, ""),
        edge=edge,
        at_ms=now_ms,
        began_ms=now_ms if began_ms is None else began_ms,
        priority=priority.of_kind(kind),
        facts={"detail": detail, "dark": list(dark)} if dark else {"detail": detail},
    )
