"""The list of alarms."""

import json
from dataclasses import replace

from monitor.alarms import acknowledge, alarms_json, audit_json, on_transition, wording
from tests.alarms.test_machine import RAISE
from tests.watch.made import START_MS, farm


def test_alarms_have_the_promised_shape() -> None:
    """Each alarm has the keys that others rely on; what is missing is null."""
    decision = on_transition(RAISE, wording(farm()), START_MS)(None)
    assert decision is not None
    (row,) = json.loads(json.dumps(alarms_json([replace(decision.alarm, id=3)]), allow_nan=False))
    assert (row["id"], row["kind"], row["place"], row["sensor"]) == (
        3, "too_warm", "cooler", "north",
    )  # fmt: skip
    assert (row["priority"], row["state"], row["batches"]) == ("high", "unacknowledged", [])
    assert row["raised_at"] == "2026-03-08T20:00:00Z"
    assert row["returned_at"] is row["acknowledged_at"] is row["acknowledged_by"] is None
    assert row["text"].startswith("Walk-in cooler is too warm.")


def test_audit_lines_say_who_and_when() -> None:
    """Each transition is told with its time, its author and both states."""
    decision = on_transition(RAISE, wording(farm()), START_MS)(None)
    assert decision is not None
    seen = acknowledge("ida", START_MS + 1000)(decision.alarm)
    assert seen is not None
    rows = audit_json([*decision.audit, *seen.audit])
    assert [(row["by"], row["before"], row["after"]) for row in rows] == [
        ("watch", "normal", "unacknowledged"),
        ("ida", "unacknowledged", "acknowledged"),
    ]
