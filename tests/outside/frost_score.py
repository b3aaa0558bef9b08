"""Score the frost outlook on nights it was not fitted to, month by month.

Run as ``python -m tests.outside.frost_score`` for the table by month. Each station's
pooled coefficients come from the four fifths of stations it does not
belong to; its own offset and regression only from its own earlier nights.
"""

from typing import Final, NamedTuple

import numpy as np

from monitor.science import frost_outlook
from monitor.science.checking import Flags as Mask
from monitor.science.checking import Floats
from monitor.science.frost_outlook import Outlook
from monitor.science.frost_prior import Evening, Pooled
from tests.outside.frost_nights import Nights, fit, load

FOLDS: Final = 5
FROST_C: Final = 0.0
PLAIN_WARNING_C: Final = 3.5
CHANCE: Final = 0.1


class Scored(NamedTuple):
    """Forecast low and chance of frost of each night, shape (n,)."""

    least_c: Floats
    chance: Floats
    from_own_nights: int


class Line(NamedTuple):
    """One month: frosts, and of warnings given what was caught and what was needless."""

    nights: int
    frosts: int
    warnings: int
    caught_share: float
    needless_share: float


def _rows(at: Evening, which: np.ndarray[tuple[int], np.dtype[np.int64]]) -> Evening:
    return Evening(*(part[which] for part in at))


def _walk(at: Evening, least_c: Floats, pooled: Pooled) -> list[Outlook | None]:
    """Return one station's outlooks, each night judged from the nights before it."""
    found = []
    for k in range(len(least_c)):
        since = max(0, k - frost_outlook.NEWEST_NIGHTS)
        past = _rows(at, np.arange(since, k))
        learned = frost_outlook.learn(past, least_c[since:k], pooled)
        tonight = _rows(at, np.array([k]))
        found.append(frost_outlook.outlook(tonight, learned, under_cover=False, pooled=pooled))
    return found


def score(nights: Nights, clock: int) -> Scored:
    """Return every night's outlook at a clock hour, from other nights only."""
    stations = sorted(set(nights.station.tolist()))
    least_c, chance = np.full((2, len(nights.least_c)), np.nan)
    own = 0
    for fold in range(FOLDS):
        inside = stations[fold::FOLDS]
        pooled = fit(nights, ~np.isin(nights.station, inside))
        for name in inside:
            which = np.flatnonzero(nights.station == name)
            found = _walk(_rows(nights.evening[clock], which), nights.least_c[which], pooled)
            for k, outlook in zip(which, found, strict=True):
                if outlook is not None:
                    least_c[k], chance[k] = outlook.least_c, outlook.chance_under(FROST_C)
                    own += outlook.basis is frost_outlook.Basis.OWN_NIGHTS
    return Scored(least_c, chance, own)


def line(nights: Nights, month: int, warned: Mask) -> Line:
    """Return what a set of warnings is worth in a month."""
    inside = nights.month == month
    frost = inside & (nights.least_c <= FROST_C)
    given = inside & warned
    caught, frosts, warnings = int((given & frost).sum()), int(frost.sum()), int(given.sum())
    return Line(
        int(inside.sum()), frosts, warnings,
        caught / frosts if frosts else float("nan"),
        (warnings - caught) / warnings if warnings else float("nan"),
    )  # fmt: skip


def as_many(nights: Nights, month: int, risk: Floats, count: int) -> Mask:
    """Return the ``count`` riskiest nights of a month as warnings."""
    ranked = np.where((nights.month == month) & ~np.isnan(risk), risk, -np.inf)
    warned = np.zeros(len(risk), dtype=np.bool_)
    warned[np.argsort(-ranked, kind="stable")[:count]] = True
    return warned


def comparison(nights: Nights, scored: Scored) -> list[tuple[int, Line, Line, Line]]:
    """Return for each month: the plain prior at 3.5 °C, as many of ours, and ours by chance.

    The plain prior was fitted to all these nights; the outlook to none of them.
    """
    found = []
    for month in range(1, 13):
        plain = line(nights, month, nights.plain_19h_c <= PLAIN_WARNING_C)
        ours = line(nights, month, as_many(nights, month, scored.chance, plain.warnings))
        by_chance = line(nights, month, scored.chance >= CHANCE)
        found.append((month, plain, ours, by_chance))
    return found


def _said(which: Line) -> str:
    if not which.warnings:
        return f"{'none':>6} {'':>13}"
    caught = "" if np.isnan(which.caught_share) else f"{100 * which.caught_share:.0f} %"
    return f"{which.warnings:>6} {caught:>6} {100 * which.needless_share:>4.0f} %"


def main() -> None:
    """Print, hour by hour and month by month, frosts caught against needless warnings."""
    nights = load()
    for clock in (19, 21):
        scored = score(nights, clock)
        error = np.nanmean(np.abs(scored.least_c - nights.least_c))
        plain_error = np.mean(np.abs(nights.plain_19h_c - nights.least_c))
        print(f"judged at {clock} h: mean error {error:.2f} K, plain prior {plain_error:.2f} K")
        print(f"{'':>16} plain <= {PLAIN_WARNING_C} °C     ours, as many ", end="")
        print(f"      ours, chance >= {CHANCE:.0%}")
        print("month  frosts  " + "  ".join(["given caught needless"] * 3))
        for month, *lines in comparison(nights, scored):
            print(f"{month:>5}  {lines[0].frosts:>6}  " + "  ".join(map(_said, lines)))


if __name__ == "__main__":
    main()
