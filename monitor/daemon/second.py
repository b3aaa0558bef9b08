"""The second watcher: it waits for a farm's heartbeats elsewhere, and tells the same people.

It is the same program in one small mode: its own ledger, the same alarms, notices and
courier, and a door of its own. It hears nothing but heartbeats.
"""

import asyncio
import contextlib
import logging
import signal
from collections.abc import Callable, Mapping
from typing import Any, Final

from monitor import alarms, notices
from monitor.alarms import Decider
from monitor.clock import Clock, SystemClock
from monitor.courier import Courier, addresses_of, marks_of
from monitor.daemon import beats
from monitor.daemon.alive import tell_manager
from monitor.daemon.pages import listen, serve_app
from monitor.daemon.second_door import Door
from monitor.errors import FarmError, StoreError
from monitor.farm import Farm, Second
from monitor.model import AlarmKind, Notice, Transition
from monitor.store import Ledger, lock_farm
from monitor.units import iso_utc

log = logging.getLogger("cormwatch")

_KEPT: Final = "beats"
_TURN_S: Final = 0.5
_REMIND_TURNS: Final = 20


def second_of(farm: Farm) -> Second:
    """Return how this folder is to listen.

    Raises
    ------
    FarmError
        If it is not the folder of a second watcher.
    """
    if farm.watcher.second is None:
        raise FarmError(
            f"{farm.directory}: farm.toml has no [watcher] second; write a folder for a second "
            "watcher with cormwatch init DIR --second"
        )
    return farm.watcher.second


class SecondWatcher:
    """One farm's heartbeats, waited for until ``stop`` is set."""

    def __init__(self, farm: Farm, clock: Clock | None = None) -> None:
        self.farm = farm
        self.second = second_of(farm)
        self.clock = clock or SystemClock()
        self.stop = asyncio.Event()
        self.words = alarms.wording(farm)
        self._waiting: list[Transition] = []
        self._said = ""

    async def run(self, on_ready: Callable[[str], None]) -> None:
        """Wait until told to stop.

        Raises
        ------
        BusyError
            If another watcher has this folder, or the port is taken.
        StoreError
            If the ledger cannot be opened.
        """
        data = self.farm.data_dir
        data.mkdir(parents=True, exist_ok=True)
        with lock_farm(data), contextlib.ExitStack() as stack:
            self.ledger = Ledger.open(data / "ledger.db")
            stack.callback(self.ledger.close)
            self.begin()
            door = listen(self.second.host, self.second.port)
            stack.callback(door.close)
            self._start_courier()
            stack.callback(self._courier.stop, 3.0)
            self.door = Door(
                self.farm.name, self.second.secret.get_secret_value(), self.take, self.standing
            )
            serving = asyncio.create_task(serve_app(self.door.app(), door))
            turning = asyncio.create_task(self._turn())
            stopping = asyncio.create_task(self.stop.wait())
            tell_manager("READY=1")
            on_ready("http://{}:{}".format(*door.getsockname()[:2]))
            parts = (serving, turning, stopping)
            try:
                done, _ = await asyncio.wait(parts, return_when=asyncio.FIRST_COMPLETED)
                for each in done - {stopping}:
                    await each
            finally:
                tell_manager("STOPPING=1")
                for part in parts:
                    part.cancel()
                await asyncio.gather(*parts, return_exceptions=True)

    def begin(self) -> None:
        """Take up what the ledger knows: the last heartbeat, and whether that was told."""
        now_ms = self.clock.now_ms()
        told = [
            each
            for each in self.ledger.alarms(open_only=True)
            if each.key.kind is AlarmKind.FARM_DARK and each.active
        ]
        dark_ms = told[0].began_ms if told else None
        self.beats = beats.begun(now_ms, self.ledger.get(_KEPT), dark_ms)

    def _start_courier(self) -> None:
        people = {each.id: each.addresses for each in self.farm.people.values()}
        self.ledger.readdress(marks_of(people))
        self._courier = Courier(self.farm.data_dir / "ledger.db", addresses_of(people), self.clock)
        self._courier.start()

    def take(self, body: Mapping[str, Any]) -> None:
        """Take a heartbeat."""
        self.beats = beats.heard(self.beats, body, self.clock.now_ms())

    def standing(self) -> dict[str, Any]:
        """Return how things stand, for a look from outside."""
        at_ms = self.beats.heard_ms
        return {
            "heard": None if at_ms is None else iso_utc(at_ms),
            "dark": self.beats.dark_ms is not None,
        }

    async def _turn(self) -> None:
        turns = 0
        while True:
            await asyncio.to_thread(self.look, remind=turns % _REMIND_TURNS == 0)
            self._courier.wake()
            tell_manager("WATCHDOG=1")
            turns += 1
            await asyncio.sleep(_TURN_S)

    def look(self, *, remind: bool = True) -> None:
        """Judge once, and write what that tells; what cannot be written waits."""
        by_ms = self.clock.step_ms()
        if by_ms:
            self.beats = beats.stepped(self.beats, by_ms)
        now_ms = self.clock.now_ms()
        self.beats, told = beats.judged(self.beats, self.second, now_ms)
        if told is not None:
            self._waiting.append(told)
        try:
            self._write(now_ms)
            if remind:
                self._remind(now_ms)
        except StoreError as failure:
            if self._said != str(failure):
                self._said = str(failure)
                log.error("the ledger cannot be written: %s", failure)  # noqa: TRY400 - expected

    def _write(self, now_ms: int) -> None:
        kept = self.beats.kept()
        if self.ledger.get(_KEPT) != kept:
            self.ledger.put(_KEPT, kept)
        while self._waiting:
            each = self._waiting[0]
            decide = alarms.on_transition(each, self.words, now_ms)
            self.ledger.transact(each.key, self._telling(decide, now_ms), now_ms)
            self._waiting.pop(0)

    def _telling(self, decide: Decider, now_ms: int) -> Decider:
        farm = self.farm
        return notices.answer(decide, farm.people, farm.notices, farm.zone, now_ms)

    def _remind(self, now_ms: int) -> None:
        found = self.ledger.alarms(open_only=True)
        sent: list[Notice] = [each for one in found for each in self.ledger.notices_of(one.id)]
        for alarm in notices.due_reminders(found, sent, self.farm.notices, now_ms):
            decide = self._telling(alarms.remind(now_ms), now_ms)
            self.ledger.transact_id(alarm.id, decide, now_ms)


async def run(farm: Farm, on_ready: Callable[[str], None] = lambda _address: None) -> None:
    """Wait for a farm's heartbeats until SIGINT or SIGTERM."""
    watcher = SecondWatcher(farm)
    loop = asyncio.get_running_loop()
    for name in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(name, watcher.stop.set)
    await watcher.run(on_ready)
