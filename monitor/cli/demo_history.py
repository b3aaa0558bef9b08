"""Three weeks of the demo farm's past, decoded, stored and judged as live readings are."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Final

from tqdm import tqdm

from monitor import alarms, watch
from monitor.batches import fold, open_batches
from monitor.daemon.restoring import live_samples, specs
from monitor.farm import Farm
from monitor.intake import Decoder, Stamper
from monitor.model import Edge, Message, Reading, Transition
from monitor.store import Commit, Ledger, ReadingStore
from simulator.farm import Published

_PACK: Final = 5_000
_SEEN_AFTER_MS: Final = 600_000


def as_message(published: Published) -> Message:
    """Return a published message as the broker would hand it over."""
    return Message(
        topic=published.topic, payload=published.payload, qos=1, message_id=0, duplicate=False,
        retained=False, connection=0, queued=False, resumed=False, received_ms=published.at_ms,
    )  # fmt: skip


@dataclass
class Past:
    """Fills a farm's store with messages of the past; no notice is written."""

    farm: Farm
    store: ReadingStore
    ledger: Ledger

    def fill(self, messages: Iterable[Published], since_ms: int, until_ms: int) -> int:
        """Take in all messages and return how many there were, showing the progress."""
        decoder, stamper = Decoder(self.farm.sensors.values()), Stamper()
        self._entries = self.ledger.entries()
        state = watch.begin(self._plan(since_ms), since_ms)
        count, source = 0, iter(messages)
        hours = (until_ms - since_ms) // 3_600_000
        with tqdm(total=hours, unit="h", desc="Three weeks of history", leave=False) as bar:
            while pack := list(islice(source, _PACK)):
                count += len(pack)
                state = self._judge(state, self._keep(pack, decoder, stamper))
                bar.update((pack[-1].at_ms - since_ms) // 3_600_000 - bar.n)
        self.ledger.set_judged_to(until_ms)
        return count

    def _plan(self, at_ms: int) -> watch.WatchPlan:
        """Return what is judged at a time: the batches that were here then."""
        book = fold(self._entries, until_ms=at_ms)
        here = open_batches(book)
        self._words = alarms.wording(self.farm, here, book.holds)
        return watch.plan(self.farm, here)

    def _keep(self, pack: list[Published], decoder: Decoder, stamper: Stamper) -> list[Reading]:
        decoded = [decoder.decode(as_message(each)) for each in pack]
        readings = stamper.stamp([each for one in decoded for each in one.readings])
        self.store.commit(
            Commit(
                readings=readings,
                heard={each.channel.sensor: each.received_ms for each in readings},
                refusals=[each for one in decoded for each in one.refusals],
            )
        )
        return readings

    def _judge(self, state: watch.WatchState, readings: list[Reading]) -> watch.WatchState:
        for event in self._events(readings):
            stepped = watch.step(state, event)
            state = stepped.state
            for transition in stepped.transitions:
                self._note(transition)
        return state

    def _events(self, readings: list[Reading]) -> Iterator[watch.Event]:
        if readings:
            start_ms = readings[0].received_ms
            yield watch.Replanned(self._plan(start_ms), start_ms)
            yield from live_samples(specs(self.farm), readings)
            yield watch.Tick(readings[-1].received_ms)

    def _note(self, transition: Transition) -> None:
        """Write an alarm of the past; somebody saw it at the time."""
        at_ms = transition.at_ms
        self.ledger.transact(
            transition.key, alarms.on_transition(transition, self._words, at_ms), at_ms
        )
        if transition.edge is Edge.RAISE:
            seen_ms = at_ms + _SEEN_AFTER_MS
            self.ledger.transact(transition.key, alarms.acknowledge("robin", seen_ms), seen_ms)
