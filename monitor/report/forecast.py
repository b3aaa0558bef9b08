"""A forecast low that a grower typed in: kept for its night, with who gave it and when."""

from datetime import date
from typing import Final

from monitor.batches.rules import Writing
from monitor.errors import OutOfRangeError
from monitor.store import Ledger
from monitor.watch.tonight import Typed

_KEY: Final = "forecast_low:"
_LEAST_C: Final = -40.0
_MOST_C: Final = 45.0


def give_low(ledger: Ledger, evening: date, low_c: float, by: str, now_ms: int) -> None:
    """Add a forecast low for the night that begins on an evening. [°C], [ms]

    Raises
    ------
    OutOfRangeError
        If no night on a flower farm is like that.
    LedgerRuleError
        If nobody is named as the giver.
    StoreError
        If the ledger cannot be written.
    """
    if not _LEAST_C <= low_c <= _MOST_C:
        raise OutOfRangeError(
            f"a low of {low_c:.1f} °C is not believed: give one from -40 to 45 °C, with its unit"
        )
    Writing(by, now_ms, now_ms).check()
    entry = {"low_c": low_c, "by": by, "at_ms": now_ms}
    ledger.append(f"{_KEY}{evening.isoformat()}", entry)


def given_low(ledger: Ledger, evening: date) -> Typed | None:
    """Return the newest forecast low given for a night, or None."""
    entries = ledger.get(f"{_KEY}{evening.isoformat()}") or []
    return Typed(**entries[-1]) if entries else None
