"""Folding the ledger: entries take effect by their time, the record keeps its own order."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace

from monitor.batches.book import Book, Contradiction, Cutting, Hold
from monitor.batches.drafts import Draft, apply
from monitor.batches.loading import loadings
from monitor.errors import LedgerRuleError
from monitor.model import EntryKind, LedgerEntry

ARRIVALS = (EntryKind.ADDED, EntryKind.GATHERED)


def undone_groups(entries: Iterable[LedgerEntry]) -> set[int]:
    """Return the groups that a later entry annulled."""
    return {int(entry.data["group"]) for entry in entries if entry.kind is EntryKind.UNDONE}


def effective(entries: Sequence[LedgerEntry]) -> list[LedgerEntry]:
    """Return the entries that still count, in the order they take effect."""
    gone = undone_groups(entries)
    kept = (e for e in entries if e.kind is not EntryKind.UNDONE and e.group not in gone)
    return sorted(kept, key=lambda entry: (entry.at_ms, entry.id))


def fold(entries: Sequence[LedgerEntry], until_ms: int | None = None) -> Book:
    """Fold a ledger's entries into what they amount to.

    Parameters
    ----------
    entries : sequence of LedgerEntry
        The whole ledger.
    until_ms : int, optional
        Leave out what takes effect later than this. [ms]

    Returns
    -------
    Book
        An entry that the ones before it do not allow is listed as a contradiction
        and has no effect, so a damaged ledger still folds.
    """
    drafts: dict[int, Draft] = {}
    contradictions: list[Contradiction] = []
    taken: list[LedgerEntry] = []
    loading: list[LedgerEntry] = []
    for entry in effective(entries):
        if until_ms is not None and entry.at_ms > until_ms:
            break
        if entry.kind is EntryKind.LOADING:
            loading.append(entry)
            continue
        draft = drafts.get(entry.batch) or Draft(entry.batch)
        try:
            apply(draft, entry)
        except LedgerRuleError as failure:
            fault = Contradiction(entry.id, entry.batch, entry.at_ms, str(failure))
            contradictions.append(fault)
            continue
        drafts[entry.batch] = draft
        taken.append(entry)
    book = _book(drafts, taken, undone_groups(entries), entries, contradictions)
    return replace(book, loadings=loadings(loading))


def _book(
    drafts: dict[int, Draft],
    taken: Sequence[LedgerEntry],
    gone: set[int],
    entries: Sequence[LedgerEntry],
    contradictions: list[Contradiction],
) -> Book:
    return Book(
        batches={key: draft.frozen() for key, draft in sorted(drafts.items())},
        observations={key: tuple(draft.observations) for key, draft in drafts.items()},
        outs={key: tuple(draft.outs) for key, draft in drafts.items()},
        holds={
            key: tuple(Hold(name, number) for name, number in draft.holds.values())
            for key, draft in drafts.items()
        },
        cuttings=_cuttings(taken),
        undone=frozenset(entry.id for entry in entries if entry.group in gone),
        contradictions=tuple(contradictions),
    )


def _cuttings(taken: Sequence[LedgerEntry]) -> tuple[Cutting, ...]:
    """Join each harvest with the arrival of its stems, which stands in the same group."""
    arrivals: dict[int, list[LedgerEntry]] = defaultdict(list)
    for entry in taken:
        if entry.kind in ARRIVALS:
            arrivals[entry.group].append(entry)
    return tuple(
        Cutting(
            entry=entry.id, source=entry.batch, into=arrival.batch, at_ms=entry.at_ms,
            cut_ms=int(entry.data.get("cut_ms") or entry.at_ms),
            count=int(entry.data["count"]), rough=bool(entry.data.get("rough")),
        )
        for entry in taken if entry.kind is EntryKind.HARVESTED
        for arrival in arrivals[entry.group]
    )  # fmt: skip
