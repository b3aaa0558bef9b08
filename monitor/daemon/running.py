"""The daemon: every part built, wired and run together, and stopped within five seconds."""

import asyncio
import contextlib
import logging
import signal
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from pydantic import SecretStr

from monitor.batches import fold
from monitor.clock import Clock, SystemClock, monotonic_s
from monitor.courier import Courier, addresses_of
from monitor.daemon import chores, reloading
from monitor.daemon.alive import tell_manager
from monitor.daemon.condition import Condition
from monitor.daemon.desk import RunningDesk
from monitor.daemon.intake import Intake
from monitor.daemon.judge import Judge
from monitor.daemon.listening import embedded_broker
from monitor.daemon.pages import listen, serve
from monitor.daemon.restoring import restore
from monitor.daemon.supervising import Supervisor
from monitor.errors import FarmError
from monitor.farm import Farm
from monitor.model import AlarmKind, Notice
from monitor.mqtt.worker import Taken, Told
from monitor.store import Ledger, ReadingStore, Reserve, lock
from monitor.watch import begin, plan
from monitor.web.app import create_app
from monitor.web.changes import Changes

log = logging.getLogger("cormwatch")

_TURN_S: Final = 1.0
_CHORES_S: Final = 10.0
_LOOK_S: Final = 2.0
_NOTE_S: Final = 30.0
_AWAY_S: Final = 180.0


@dataclass(frozen=True)
class Options:
    """How to run: by which clock, at which port, and whom to tell of what happens."""

    clock: Clock | None = None
    port: int | None = None
    on_notice: Callable[[Notice], None] | None = None
    on_ready: Callable[[str], None] = lambda _address: None


class Daemon:
    """One farm, watched until ``stop`` is set."""

    def __init__(self, farm: Farm, options: Options) -> None:
        self.farm = farm
        self.options = options
        self.clock = options.clock or SystemClock()
        self.changes = Changes()
        self.stop = asyncio.Event()
        self._woken = asyncio.Event()
        self._supervisor = Supervisor()
        self._courier: Courier | None = None

    async def run(self) -> None:
        """Watch the farm until told to stop.

        Raises
        ------
        BusyError
            If another daemon watches this farm, or the port is taken.
        StoreError
            If a file of the store cannot be opened.
        """
        data = self.farm.data_dir
        with lock(data / "cormwatch.lock"), contextlib.ExitStack() as stack:
            self.reserve = Reserve(data / "reserve")
            self.reserve.make()
            self.store = ReadingStore.open(data / "readings.db")
            stack.callback(self.store.close)
            self.ledger = Ledger.open(data / "ledger.db")
            stack.callback(self.ledger.close)
            self.door = listen(self.farm.web.host, self._port())
            stack.callback(self.door.close)
            self.broker = embedded_broker(self.farm)
            if self.broker is not None:
                self.broker.start()
                stack.callback(self.broker.stop)
            self._build()
            await self._together()

    def _port(self) -> int:
        return self.farm.web.port if self.options.port is None else self.options.port

    def _build(self) -> None:
        now_ms = self.clock.now_ms()
        self.ledger.accept_configuration(self.farm.texts, self.farm.digest, now_ms, "start")
        book = fold(self.ledger.entries())
        self.judge = Judge(
            self.farm, self.ledger, self.clock, book, begin(plan(self.farm, ()), now_ms),
            on_change=self.changes.tell, on_told=self._wake_courier,
        )  # fmt: skip
        reader = self.store.reader()
        self.judge.begin(
            restore(
                self.farm,
                book,
                reader,
                now_ms,
                open_alarms=self.ledger.alarms(open_only=True),
                judged_to_ms=self.ledger.judged_to(),
            )
        )
        reader.close()
        told = Told(self._taken, self._store_failed, self._store_back)
        self.intake = Intake(lambda: self.farm, self.store, self.clock, told, self.broker)
        self.condition = Condition(self.farm, self.store, self.intake, self._supervisor)
        self._start_courier()

    # -- parts ---------------------------------------------------------------------------

    async def _together(self) -> None:
        keep = self._supervisor.keep
        address = "http://{}:{}".format(*self.door.getsockname()[:2])
        desk = RunningDesk(
            self.judge, self.clock, self.changes, self.condition.health, self.store.reader
        )
        parts = {
            "intake": self.intake.run,
            "watch": self._watch,
            "configuration": self._reload,
            "pages": lambda: serve(create_app(desk), self.door, self.changes),
        }
        try:
            async with asyncio.TaskGroup() as group:
                tasks = [group.create_task(keep(name, part)) for name, part in parts.items()]
                group.create_task(self._until_stopped(tasks))
                tell_manager("READY=1")
                self.options.on_ready(address)
        finally:
            await self._drain()

    async def _until_stopped(self, tasks: list["asyncio.Task[None]"]) -> None:
        await self.stop.wait()
        for task in tasks:
            task.cancel()

    async def _drain(self) -> None:
        tell_manager("STOPPING=1")
        await self.judge.write()
        self.judge.note_judged()
        if self._courier is not None:
            await asyncio.to_thread(self._courier.stop, 3.0)

    async def _watch(self) -> None:
        """Judge as time passes; feeds the service manager's watchdog."""
        version, chores_s, noted_s = self.ledger.data_version(), 0.0, monotonic_s()
        while True:
            await self._nap()
            now_ms, now_s = self.clock.now_ms(), monotonic_s()
            self._follow_clock()
            self.judge.tick(now_ms)
            self.judge.own(AlarmKind.BROKER_LOST, now_ms, bad=self.intake.away_s() > _AWAY_S)
            if (newest := self.ledger.data_version()) != version:
                version = newest
                self.judge.reread(now_ms)
                self._wake_courier()
            await self.judge.write()
            if now_s - chores_s >= self.clock.real_seconds(_CHORES_S):
                chores_s = now_s
                await asyncio.to_thread(self._do_chores, now_ms)
                self._wake_courier()
            if now_s - noted_s >= _NOTE_S:
                noted_s = now_s
                await asyncio.to_thread(self.judge.note_judged)
            tell_manager("WATCHDOG=1")

    def _do_chores(self, now_ms: int) -> None:
        reader = self.store.reader()
        try:
            chores.do(self.judge, reader, now_ms)
        finally:
            reader.close()

    async def _nap(self) -> None:
        due_ms = self.judge.next_due_ms
        wait_s = _TURN_S
        if due_ms is not None:
            left_s = self.clock.real_seconds((due_ms - self.clock.now_ms()) / 1000)
            wait_s = min(max(left_s, 0.0), _TURN_S)
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(self._woken.wait(), wait_s)
        self._woken.clear()

    def _follow_clock(self) -> None:
        by_ms = self.clock.step_ms()
        if by_ms:
            self.judge.clock_stepped(self.clock.now_ms(), by_ms)
            self.intake.clock_trusted()

    async def _reload(self) -> None:
        files = reloading.Reloading(self.farm.directory)
        while True:
            await asyncio.sleep(_LOOK_S)
            if not await asyncio.to_thread(files.changed):
                continue
            now_ms = self.clock.now_ms()
            try:
                farm = await asyncio.to_thread(reloading.take, self.farm.directory, self.judge.book)
            except FarmError as failure:
                log.error("the changed configuration is refused: %s", failure)  # noqa: TRY400
                self.judge.own(
                    AlarmKind.CONFIGURATION_REFUSED, now_ms, bad=True, detail=str(failure)
                )
            else:
                self.judge.own(AlarmKind.CONFIGURATION_REFUSED, now_ms, bad=False)
                await self._use(farm, now_ms)
            self._woken.set()

    async def _use(self, farm: Farm, now_ms: int) -> None:
        old, self.farm = self.farm, farm
        self.ledger.accept_configuration(farm.texts, farm.digest, now_ms, "file changed")
        self.judge.use(farm, now_ms)
        self.condition.farm = farm
        topics = {each.topic for each in old.sensors.values()}
        same = farm.broker == old.broker and topics == {e.topic for e in farm.sensors.values()}
        self.intake.use(farm, reconnect=not same)
        if farm.people != old.people:
            await asyncio.to_thread(self._restart_courier)
        log.info("the changed configuration is in force")

    # -- courier -------------------------------------------------------------------------

    def _start_courier(self) -> None:
        people: dict[str, tuple[SecretStr, ...]] = {
            each.id: each.addresses for each in self.farm.people.values()
        }
        self._courier = Courier(
            self.farm.data_dir / "ledger.db", addresses_of(people), self.clock,
            self.options.on_notice,
        )  # fmt: skip
        self._courier.start()

    def _restart_courier(self) -> None:
        if self._courier is not None:
            self._courier.stop(3.0)
        self._start_courier()

    def _wake_courier(self) -> None:
        if self._courier is not None:
            self._courier.wake()

    # -- told by the intake, in the loop -------------------------------------------------

    def _taken(self, taken: Taken) -> None:
        self.judge.readings(taken.readings)
        self.condition.remember(taken.last_known)
        if self.judge.pending:
            self._woken.set()

    def _store_failed(self, reason: str) -> None:
        self.reserve.release()
        self.judge.own(AlarmKind.STORE_FAILED, self.clock.now_ms(), bad=True, detail=reason)
        self._woken.set()

    def _store_back(self) -> None:
        self.judge.own(AlarmKind.STORE_FAILED, self.clock.now_ms(), bad=False)
        self.reserve.make()
        self._woken.set()


async def run(farm: Farm, options: Options) -> None:
    """Watch a farm until SIGINT or SIGTERM."""
    daemon = Daemon(farm, options)
    loop = asyncio.get_running_loop()
    for name in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(name, daemon.stop.set)
    await daemon.run()
