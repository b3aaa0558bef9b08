"""A report as CSV: one row a stage and quantity, one row a time out. Values °C and %."""

from collections.abc import Iterator
from typing import Final

from monitor.batches.history import QuantityHistory, StageHistory
from monitor.batches.outside import TimeOut
from monitor.report.making import Report
from monitor.units import iso_utc

COLUMNS: Final = (
    "row", "stage", "place", "quantity", "from", "to", "hours", "coverage", "in_band_share",
    "mean", "low", "high", "side", "limit", "peak", "degree_hours",
)  # fmt: skip


def report_rows(report: Report) -> Iterator[tuple[str, ...]]:
    """Yield the rows of a report; what is not known is empty."""
    for stage in report.history.stages:
        for told in stage.quantities.values():
            yield _stage_row(stage, told)
            for out in told.excursions:
                yield _out_row(stage, out)


def _figure(value: float | None) -> str:
    return "" if value is None else f"{value:.4f}".rstrip("0").rstrip(".")


def _stage_row(stage: StageHistory, told: QuantityHistory) -> tuple[str, ...]:
    return (
        "stage", stage.stage, " ".join(stage.places), told.quantity.value,
        iso_utc(stage.since_ms) or "", iso_utc(stage.until_ms) or "",
        _figure(told.length_s / 3600), _figure(told.coverage), _figure(told.in_band_share),
        _figure(told.mean), _figure(told.low), _figure(told.high), "", "", "",
        _figure(told.degree_hours if told.in_band_s is not None else None),
    )  # fmt: skip


def _out_row(stage: StageHistory, out: TimeOut) -> tuple[str, ...]:
    return (
        out.depth.value, stage.stage, out.place, out.quantity.value, iso_utc(out.from_ms) or "",
        iso_utc(out.until_ms) or "", _figure(out.duration_s / 3600), "", "", "", "", "",
        out.side.value, _figure(out.limit), _figure(out.peak), _figure(out.degree_hours),
    )  # fmt: skip
