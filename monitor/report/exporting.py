"""Everything that is kept, as tables of plain rows: CSV or JSON, times UTC, values °C and %."""

import csv
import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final, TextIO

from monitor.alarms.listing import alarm_json, audit_json
from monitor.batches import Book, fold
from monitor.batches.listing import batch_details_json, batch_json, entry_json
from monitor.model import Alarm, LedgerEntry
from monitor.store import Ledger, ReadingReader
from monitor.units import iso_utc

EVER_MS: Final = 2**62
MOST: Final = 2**31
Row = Mapping[str, Any]


@dataclass(frozen=True)
class Kept:
    """What the tables are made from: the ledger and the readings of one farm."""

    ledger: Ledger
    reader: ReadingReader

    def entries(self) -> tuple[list[LedgerEntry], Book]:
        """Return the ledger's entries, and what they fold into."""
        entries = self.ledger.entries()
        return entries, fold(entries)

    def alarms(self) -> list[Alarm]:
        """Return every alarm, the oldest first."""
        return self.ledger.alarms_since(-EVER_MS)[::-1]


def _batches(kept: Kept) -> Iterator[Row]:
    _, book = kept.entries()
    for _, batch in sorted(book.batches.items()):
        row = batch_json(batch, book, {})
        row.pop("state")
        yield row


def _of_batches(part: str) -> Callable[[Kept], Iterator[Row]]:
    def rows(kept: Kept) -> Iterator[Row]:
        entries, book = kept.entries()
        for number, batch in sorted(book.batches.items()):
            for each in batch_details_json(batch, book, entries, {})[part]:
                yield {"batch": number, **each}

    return rows


def _entries(kept: Kept) -> Iterator[Row]:
    entries, book = kept.entries()
    return (entry_json(each, book) for each in entries)


def _alarms(kept: Kept) -> Iterator[Row]:
    for alarm in kept.alarms():
        audit = audit_json(kept.ledger.audit(alarm.id))
        yield alarm_json(alarm) | {"facts": dict(alarm.facts), "audit": audit}


def _audit(kept: Kept) -> Iterator[Row]:
    for alarm in kept.alarms():
        for line in audit_json(kept.ledger.audit(alarm.id)):
            yield {"alarm": alarm.id, **line}


def _notices(kept: Kept) -> Iterator[Row]:
    for each in reversed(kept.ledger.notices(MOST)):
        yield {
            "id": each.id, "alarm": each.alarm, "kind": each.kind.value, "person": each.person,
            "address": each.address, "priority": each.priority,
            "created_at": iso_utc(each.created_ms), "due_at": iso_utc(each.due_ms),
            "status": each.status.value, "attempts": each.attempts,
            "sent_at": iso_utc(each.sent_ms), "last_error": each.last_error or None,
            "title": each.title, "body": each.body,
        }  # fmt: skip


def _duty(kept: Kept) -> Iterator[Row]:
    for each in kept.ledger.duty_lines():
        yield {
            "from": iso_utc(each.from_ms), "until": iso_utc(each.until_ms), "person": each.person,
            "recorded_at": iso_utc(each.recorded_ms), "by": each.by,
        }  # fmt: skip


def _configurations(kept: Kept) -> Iterator[Row]:
    for each in kept.ledger.configurations():
        for name, text in each.texts.items():
            yield {
                "id": each.id, "at": iso_utc(each.at_ms), "by": each.by, "digest": each.digest,
                "file": name, "text": text,
            }  # fmt: skip


def _gaps(kept: Kept) -> Iterator[Row]:
    for each in kept.reader.gaps():
        yield {
            "from": iso_utc(each.from_ms), "to": iso_utc(each.to_ms), "readings": each.count,
            "why": each.why,
        }  # fmt: skip


def _conflicts(kept: Kept) -> Iterator[Row]:
    for each in reversed(kept.reader.conflicts(MOST)):
        yield {
            "at": iso_utc(each.at_ms), "sensor": each.channel.sensor,
            "quantity": each.channel.quantity.value, "kept": each.kept, "refused": each.refused,
            "received_at": iso_utc(each.received_ms),
        }  # fmt: skip


@dataclass(frozen=True)
class Table:
    """One table: what it is, the columns it has as CSV, and its rows.

    As JSON a row may have more than the columns.
    """

    about: str
    columns: tuple[str, ...]
    rows: Callable[[Kept], Iterator[Row]]


def _table(about: str, columns: str, rows: Callable[[Kept], Iterator[Row]]) -> Table:
    return Table(about, tuple(columns.split()), rows)


TABLES: Final[Mapping[str, Table]] = {
    "batches": _table(
        "each batch as it stands",
        "id crop cultivar count rough unit counted_at stage place since began_at ended_at "
        "supplier lot grade received rotten parents held", _batches,
    ),
    "stays": _table(
        "where each batch was", "batch place stage since until", _of_batches("stays")
    ),
    "observations": _table(
        "what was seen of each batch",
        "batch entry at by roots mould softness moisture culls all_fine note count rough "
        "held_for held", _of_batches("observations"),
    ),
    "outs": _table(
        "what left each batch",
        "batch entry at by purpose count rough bunches bunch_of to", _of_batches("outs"),
    ),
    "entries": _table(
        "the record of batches as it was written, undone entries too",
        "id batch kind at recorded_at by undone data", _entries,
    ),
    "alarms": _table(
        "each alarm; as JSON with its transitions",
        "id kind place sensor batches priority state began_at raised_at returned_at "
        "acknowledged_at acknowledged_by quantity value limit peak title text active until_at "
        "why once answer", _alarms,
    ),
    "audit": _table(
        "each alarm's transitions, and by whom",
        "alarm at by before after value limit note", _audit,
    ),
    "notices": _table(
        "each message, and what came of it",
        "id alarm kind person address priority created_at due_at status attempts sent_at "
        "last_error title body", _notices,
    ),
    "duty": _table("who took the duty", "from until person recorded_at by", _duty),
    "configurations": _table(
        "the farm's files as they were in force, a row a file",
        "id at by digest file text", _configurations,
    ),
    "gaps": _table(
        "when readings were heard and could not be kept", "from to readings why", _gaps
    ),
    "conflicts": _table(
        "the newest sample times that came with two values",
        "at sensor quantity kept refused received_at", _conflicts,
    ),
}  # fmt: skip
"""Every table but the readings, whose rows come in pages."""


FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")


def marked(text: str) -> str:
    """Return a text with an apostrophe before it where a spreadsheet would run it as a formula.

    A number is left alone (OWASP, CSV injection; from memory).
    """
    if not text.startswith(FORMULA):
        return text
    try:
        float(text)
    except ValueError:
        return f"'{text}"
    return text


def cell(value: object) -> str:
    """Return a value as a cell of CSV: nothing where it is missing, lists as JSON.

    As JSON a text stands as it was typed; see ``marked``.
    """
    if value is None:
        return ""
    if isinstance(value, str):
        return marked(value)
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def write_csv(rows: Iterable[Row], columns: tuple[str, ...], to: TextIO) -> None:
    """Write rows as CSV (RFC 4180, lines end with a newline alone)."""
    table = csv.writer(to, lineterminator="\n")
    table.writerow(columns)
    table.writerows([cell(row.get(name)) for name in columns] for row in rows)


def write_json(rows: Iterable[Row], to: TextIO) -> None:
    """Write rows as one JSON array, a row a line."""
    begin = "["
    for row in rows:
        to.write(f"{begin}\n{json.dumps(row, ensure_ascii=False, allow_nan=False)}")
        begin = ","
    to.write("[]\n" if begin == "[" else "\n]\n")
