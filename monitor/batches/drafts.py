"""One batch while its entries are being folded: each entry's effect, or its contradiction."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from monitor.batches.book import Observation, Out, left, observed
from monitor.batches.counts import counted, unit_word
from monitor.errors import LedgerRuleError
from monitor.model import Batch, EntryKind, LedgerEntry, Stay
from monitor.phrase import Phrase


@dataclass(slots=True)
class Draft:
    """What is known of one batch so far, in order of time."""

    id: int
    first: Mapping[str, Any] = field(default_factory=dict)
    begun: bool = False
    count: int | None = None
    rough: bool = False
    counted_at_ms: int | None = None
    unit: str = ""
    stands: list[tuple[str, str, int]] = field(default_factory=list)
    ended_ms: int | None = None
    holds: dict[str, tuple[str, int]] = field(default_factory=dict)
    observations: list[Observation] = field(default_factory=list)
    outs: list[Out] = field(default_factory=list)

    def stand(self, place: str, stage: str, at_ms: int) -> None:
        """Note that it stands in a place at a stage from a time; what changes nothing merges."""
        if self.stands and self.stands[-1][2] == at_ms:
            self.stands.pop()
        if not self.stands or self.stands[-1][:2] != (place, stage):
            self.stands.append((place, stage, at_ms))

    def take(self, number: int, *, rough: bool) -> None:
        """Take some away: never more than its records say are there."""
        if self.count is None:
            return
        if number > self.count:
            raise LedgerRuleError(self._too_few(number))
        self.count -= number
        self.rough = self.rough or rough

    def _too_few(self, number: int) -> str:
        has = counted(self.count, self.unit, rough=self.rough)
        return Phrase(
            "batch {batch} holds {has}, so {number:,} cannot be taken from it; correct the count "
            "first: cormwatch batch observe {batch} --count N"
            if self.rough
            else "batch {batch} holds {has}, so {number:,} cannot be taken from it; check the "
            "number, or count again first: cormwatch batch observe {batch} --count N",
            batch=self.id,
            has=has,
            number=number,
        )

    def recount(self, data: Mapping[str, Any], at_ms: int) -> None:
        """Take a new count as what is there."""
        self.count = int(data["count"])
        self.rough = bool(data.get("rough"))
        self.counted_at_ms = at_ms

    def hold(self, held_for: str, number: int) -> None:
        """Hold some for an order; none releases it."""
        key = held_for.casefold()
        held = sum(each for other, (_, each) in self.holds.items() if other != key)
        if self.count is not None and not self.rough and held + number > self.count:
            has = counted(self.count, self.unit)
            raise LedgerRuleError(
                Phrase(
                    "batch {batch} holds {has}, {held:,} of them held already, so {number:,} "
                    "cannot be held for {held_for}; hold fewer, or release another order with "
                    "--held 0",
                    batch=self.id,
                    has=has,
                    held=held,
                    number=number,
                    held_for=held_for,
                )
            )
        self.holds.pop(key, None)
        if number:
            self.holds[key] = (held_for, number)

    def frozen(self) -> Batch:
        """Return the batch as its entries tell."""
        ends = [stand[2] for stand in self.stands[1:]] + [self.ended_ms]
        text = self.first.get
        return Batch(
            id=self.id, crop=str(text("crop")), cultivar=str(text("cultivar") or ""),
            supplier=text("supplier"), lot=text("lot"), grade=text("grade"),
            count=self.count, rough=self.rough, counted_at_ms=self.counted_at_ms,
            received=text("received"), rotten=text("rotten"), unit=self.unit,
            stays=tuple(
                Stay(place, stage, since, until)
                for (place, stage, since), until in zip(self.stands, ends, strict=True)
            ),
            ended_ms=self.ended_ms,
            held_for="; ".join(name for name, _ in self.holds.values()) or None,
            parents=tuple(text("parents") or ()),
        )  # fmt: skip


def _added(draft: Draft, entry: LedgerEntry) -> None:
    draft.first, draft.begun = entry.data, True
    draft.unit = str(entry.data.get("unit") or "stems")
    if entry.data.get("count") is not None:
        draft.recount(entry.data, entry.at_ms)
    draft.stand(entry.data["place"], entry.data["stage"], entry.at_ms)


def _moved(draft: Draft, entry: LedgerEntry) -> None:
    draft.unit = str(entry.data.get("unit") or draft.unit)
    draft.stand(entry.data["place"], entry.data["stage"], entry.at_ms)


def _harvested(draft: Draft, entry: LedgerEntry) -> None:
    if draft.unit == "stems":
        raise LedgerRuleError(
            Phrase(
                "batch {batch} is cut stems already, entry {entry} cannot harvest it; harvest "
                "from a growing batch, or record what leaves with cormwatch batch out",
                batch=draft.id,
                entry=entry.id,
            )
        )


def _gathered(draft: Draft, entry: LedgerEntry) -> None:
    if draft.unit != "stems":
        raise LedgerRuleError(
            Phrase(
                "batch {batch} is {unit}, no stems can be added to it; leave --into out to "
                "start a stems batch",
                batch=draft.id,
                unit=unit_word(draft.unit),
            )
        )
    if draft.count is not None:
        draft.count += int(entry.data["count"])
        draft.rough = draft.rough or bool(entry.data.get("rough"))


def _out(draft: Draft, entry: LedgerEntry) -> None:
    out = left(entry)
    draft.take(out.count, rough=out.rough)
    draft.outs.append(out)
    key = (out.to or "").casefold()
    if key in draft.holds:
        name, held = draft.holds.pop(key)
        if held > out.count:
            draft.holds[key] = (name, held - out.count)


def _observed(draft: Draft, entry: LedgerEntry) -> None:
    seen = observed(entry)
    if seen.held_for is not None:
        draft.hold(seen.held_for, seen.held or 0)
    if seen.count is not None:
        draft.recount(entry.data, entry.at_ms)
    draft.observations.append(seen)


def _split(draft: Draft, entry: LedgerEntry) -> None:
    draft.take(int(entry.data["count"]), rough=bool(entry.data.get("rough")))


def _divided(draft: Draft, entry: LedgerEntry) -> None:
    draft.recount(entry.data, entry.at_ms)
    draft.unit = str(entry.data.get("unit") or draft.unit)


def _ended(draft: Draft, entry: LedgerEntry) -> None:
    draft.ended_ms = entry.at_ms


EFFECTS: Final[Mapping[EntryKind, Callable[[Draft, LedgerEntry], None]]] = {
    EntryKind.ADDED: _added,
    EntryKind.MOVED: _moved,
    EntryKind.HARVESTED: _harvested,
    EntryKind.GATHERED: _gathered,
    EntryKind.OUT: _out,
    EntryKind.OBSERVED: _observed,
    EntryKind.SPLIT: _split,
    EntryKind.DIVIDED: _divided,
    EntryKind.ENDED: _ended,
}


def apply(draft: Draft, entry: LedgerEntry) -> None:
    """Let one entry take effect.

    Raises
    ------
    LedgerRuleError
        If the entries before it do not allow it.
    """
    if entry.kind is EntryKind.ADDED and draft.begun:
        raise LedgerRuleError(
            Phrase(
                "batch {batch} was added before; give it another number",
                batch=draft.id,
            )
        )
    if entry.kind is not EntryKind.ADDED and not draft.begun:
        raise LedgerRuleError(
            Phrase(
                "batch {batch} was not here yet at that time; give a later time with --at, or "
                "undo its later entries first",
                batch=draft.id,
            )
        )
    if draft.ended_ms is not None:
        raise LedgerRuleError(
            Phrase(
                "batch {batch} has ended: nothing more can be recorded for it; undo its end "
                "first: cormwatch batch undo {batch}",
                batch=draft.id,
            )
        )
    EFFECTS[entry.kind](draft, entry)
