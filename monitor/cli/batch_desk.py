"""Where batches are written down: the farm, its ledger, and what is told afterwards."""

import argparse
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass

from monitor.batches import Book, fold
from monitor.batches.asked import remarks
from monitor.batches.listing import batch_json
from monitor.batches.rules import Builder, Writing
from monitor.batches.rules.writing import known
from monitor.batches.telling import say_batch, say_entry
from monitor.batches.voice import Voice
from monitor.cli.common import print_json
from monitor.cli.opening import batch_states, load_farm, open_ledger
from monitor.clock import SystemClock
from monitor.daemon.survey import open_reader
from monitor.errors import StoreError
from monitor.farm import Farm, parse_when
from monitor.model import Batch, EntryKind, LedgerEntry, PlaceState
from monitor.report.carrying import sweating_lines
from monitor.report.reading import Stores
from monitor.report.recorded import past_of
from monitor.store import Ledger


@dataclass(frozen=True)
class Desk:
    """The farm and its ledger, at the time of one command. [ms]"""

    farm: Farm
    ledger: Ledger
    now_ms: int

    def writing(self, args: argparse.Namespace) -> Writing:
        """Return who writes, and when it happened."""
        at_ms = parse_when(args.at, self.farm.zone, self.now_ms)
        return Writing(by=args.by, at_ms=at_ms, now_ms=self.now_ms, zone=self.farm.zone)

    def book(self) -> Book:
        """Return what the ledger amounts to."""
        return fold(self.ledger.entries())

    def batch(self, number: int) -> Batch:
        """Return a batch of the ledger."""
        return known(self.book(), number)

    def states(self) -> Mapping[int, PlaceState]:
        """Return how each batch stands, where the watch can tell."""
        return batch_states(self.farm, self.now_ms)

    def write(self, args: argparse.Namespace, build: Builder, named: int | None = None) -> int:
        """Write what the builder allows, and tell how things stand now."""
        entries = self.ledger.write_entries(build, self.now_ms)
        begun = [entry.batch for entry in entries if entry.kind is EntryKind.ADDED]
        book = self.book()
        self._tell(args, book, entries, begun[0] if begun else named)
        for line in remarks(self.farm, book, entries):
            print(f"cormwatch batch: recorded, but {line}", file=sys.stderr)
        for line in self._sweating(book, entries):
            print(f"cormwatch batch: {line}", file=sys.stderr)
        return 0

    def _sweating(self, book: Book, entries: Sequence[LedgerEntry]) -> list[str]:
        """Return whether stems that were carried sweat; what was recorded stands anyway."""
        if not any(each.kind in (EntryKind.MOVED, EntryKind.OUT) for each in entries):
            return []
        past = past_of(self.farm, self.ledger.configurations())
        voice = Voice(self.farm.units, self.farm.zone, self.now_ms)
        try:
            with closing(open_reader(self.farm)) as reader:
                return list(sweating_lines(Stores(self.farm, past, reader), book, entries, voice))
        except StoreError:
            return []

    def _tell(
        self, args: argparse.Namespace, book: Book, entries: Sequence[LedgerEntry],
        named: int | None,
    ) -> None:  # fmt: skip
        states = self.states()
        if args.json:
            found = None if named is None else book.batches.get(named)
            print_json({} if found is None else batch_json(found, book, states))
            return
        undone = self._undone(entries)
        if undone:
            print(undone)
        for number in sorted({entry.batch for entry in entries}):
            if number not in book.batches:
                print(f"Batch {number} no longer counts.")
                continue
            first, *more = say_batch(self.farm, book, book.batches[number], states)
            told = first if undone else f"Batch {number} recorded. {first}"
            print("\n  ".join([told, *more]))

    def _undone(self, entries: Sequence[LedgerEntry]) -> str:
        """Return what an undoing took back, or nothing where the entries are none."""
        undoing = next((each for each in entries if each.kind is EntryKind.UNDONE), None)
        if undoing is None:
            return ""
        new = {each.id for each in entries}
        before = [each for each in self.ledger.entries() if each.id not in new]
        gone = next(each for each in before if each.id == undoing.data["entry"])
        what = say_entry(self.farm, fold(before).batches[gone.batch], gone)
        return f"Entry {gone.id} of batch {gone.batch} is undone: {what}."


@contextmanager
def open_desk(args: argparse.Namespace) -> Iterator[Desk]:
    """Load the farm and open its ledger for one command."""
    farm = load_farm(args)
    with closing(open_ledger(farm)) as ledger:
        yield Desk(farm, ledger, SystemClock().now_ms())
