"""What is to be sent next: the newest of each channel, and what came late behind it.

Why a time for each channel and a list of late spans: rows are kept by (channel, time), and
nearly all arrive in order of time, so the cursor is a time, costs the writer nothing, and
a step reads one short range per channel. A row behind its channel's newest would be passed
over; the store notes its span in the same transaction. The list of spans is read *before*
the channels, and a span is followed up to its channel's cursor of before this batch: a row
that lies further on was written before the channel is read, and is found by its time.
"""

from dataclasses import dataclass, field
from typing import Final

from monitor.model import Channel
from monitor.store import Advance, ArrivalReader, Late, Position, RefusedReading, Series, Standing

BATCH: Final = 5_000
"""Readings in one request: about half a megabyte before compression."""
SPANS: Final = 500
BEFORE_ALL: Final = -(2**62)


@dataclass(frozen=True, slots=True)
class Piece:
    """Readings of one channel; ``late`` is the span they are of, ``ends`` whether all of it."""

    channel: Channel
    series: Series
    late: Late | None = None
    ends: bool = False


@dataclass
class Batch:
    """What one step sends, in the order it is settled.

    ``oldest_ms`` is the time of the first reading that waits [ms], None where none does;
    ``full`` says that more waits.
    """

    position: Position
    pieces: list[Piece] = field(default_factory=list)
    oldest_ms: int | None = None
    full: bool = False

    def progress(self, done: int, refused: list[tuple[int, str]], now_ms: int) -> Advance:
        """Return what may be noted once the first ``done`` readings are settled."""
        cursors: dict[Channel, int] = {}
        late, late_at_ms = self.position.late, self.position.late_at_ms
        reasons, bad, begin = dict(refused), list[RefusedReading](), 0
        for piece in self.pieces:
            size = len(piece.series.at_ms)
            taken = min(done - begin, size)
            if size and not taken:
                break
            for at in range(taken) if reasons else ():
                if begin + at in reasons:
                    bad.append(_refused(piece, at, reasons[begin + at], now_ms))
            if piece.late is None:
                cursors[piece.channel] = int(piece.series.at_ms[taken - 1])
            elif piece.ends and taken == size:
                late, late_at_ms = piece.late.id, 0
            else:
                late, late_at_ms = piece.late.id - 1, int(piece.series.at_ms[taken - 1]) + 1
            if taken < size:
                break  # an empty span behind it is no reason to pass its rest over
            begin += taken
        return Advance(cursors, late, late_at_ms, done - len(bad), bad)


def _refused(piece: Piece, at: int, reason: str, now_ms: int) -> RefusedReading:
    series = piece.series
    return RefusedReading(
        piece.channel, int(series.at_ms[at]), float(series.raw[at]), reason, now_ms
    )


def known(position: Position, standing: Standing, target: str) -> bool:
    """Return whether a position belongs to this file as it stands, and to this target.

    A file that was begun anew, or restored as it was earlier, is another; so is one that has
    dropped late spans not yet followed.
    """
    return (
        (position.token, position.target) == (standing.token, target)
        and standing.first_late - 1 <= position.late <= standing.last_late
        and all(
            at_ms <= standing.heads.get(channel, BEFORE_ALL)
            for channel, at_ms in position.cursors.items()
        )
    )


def gather(reader: ArrivalReader, position: Position, until_ms: int, most: int = BATCH) -> Batch:
    """Return what to send next.

    Parameters
    ----------
    reader : ArrivalReader
        The readings.
    position : Position
        How far the copy has come; it is of this file (``known``).
    until_ms : int
        Readings from this time on are left to settle. [ms]
    most : int
        Readings at most.
    """
    batch = Batch(position)
    spans = reader.late_after(position.late, SPANS)
    room = _news(reader, batch, until_ms, most)
    _late(reader, batch, spans, room)
    return batch


def _news(reader: ArrivalReader, batch: Batch, until_ms: int, most: int) -> int:
    """Add what lies behind each cursor, to each channel its share; return the room left."""
    cursors, heads = batch.position.cursors, reader.standing().heads
    waiting = sorted(
        (cursors.get(channel, BEFORE_ALL), channel)
        for channel, head_ms in heads.items()
        if head_ms > cursors.get(channel, BEFORE_ALL)
    )
    room = most
    for left, (cursor_ms, channel) in zip(range(len(waiting), 0, -1), waiting, strict=True):
        share = max(room // left, min(room, 1))
        if not share:
            batch.full = True
            break
        series = reader.page(channel, cursor_ms + 1, until_ms, share)
        if len(series.at_ms):
            batch.pieces.append(Piece(channel, series))
            first_ms = int(series.at_ms[0])
            batch.oldest_ms = min(first_ms, batch.oldest_ms or first_ms)
        batch.full |= len(series.at_ms) == share
        room -= len(series.at_ms)
    return room


def _late(reader: ArrivalReader, batch: Batch, spans: list[Late], room: int) -> None:
    """Add late rows up to the cursors of before this batch, as far as there is room."""
    from_ms = batch.position.late_at_ms
    for span in spans:
        if room <= 0:
            batch.full = True
            return
        cursor_ms = batch.position.cursors.get(span.channel, BEFORE_ALL)
        until_ms = min(span.to_ms, cursor_ms) + 1
        series = reader.page(span.channel, max(span.from_ms, from_ms), until_ms, room)
        ends = len(series.at_ms) < room
        batch.pieces.append(Piece(span.channel, series, span, ends))
        batch.full |= not ends
        room -= len(series.at_ms)
        from_ms = 0
    batch.full |= len(spans) == SPANS
