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
from monitor.courier import Courier, addresses_of, marks_of
from monitor.daemon import chores, reloading
from monitor.daemon.alive import tell_manager
from monitor.daemon.backing import Backups, UpkeepThread
from monitor.daemon.condition import Condition
from monitor.daemon.costing import Costing
from monitor.daemon.desk import RunningDesk
from monitor.daemon.encrypting import refuse_unsound
from monitor.daemon.heartbeat import Heartbeat
from monitor.daemon.intake import Intake
from monitor.daemon.judge import Judge
from monitor.daemon.keeping import Keeping, OwedInLedger
from monitor.daemon.listening import embedded_broker
from monitor.daemon.mirroring import Mirroring
from monitor.daemon.opening import nothing_yet, open_files, restored
from monitor.daemon.outlook import Outlooks
from monitor.daemon.pages import listen, refuse_open, serve
from monitor.daemon.picturing import Picturing
from monitor.daemon.room import Disk
from monitor.daemon.supervising import Supervisor
from monitor.daemon.watching import Watching
from monitor.errors import BrokerError, FarmError, StoreError
from monitor.farm import Farm
from monitor.model import AlarmKind, Notice
from monitor.mqtt.embedded import EmbeddedBroker
from monitor.mqtt.worker import Taken, Told
from monitor.store import Reserve, lock_farm
from monitor.web.app import create_app
from monitor.web.changes import CHANGES_APART_S, FIGURES_APART_S, Changes

log = logging.getLogger("cormwatch")

_LOOK_S: Final = 2.0
_STOP_S: Final = 4.5


@dataclass(frozen=True)
class Options:
    """How to run: by which clock, at which port, and whom to tell of what happens."""

    clock: Clock | None = None
    port: int | None = None
    on_notice: Callable[[Notice], None] | None = None
    on_ready: Callable[[str], None] = lambda _address: None
    listen: tuple[str, int] | None = None


class Daemon:
    """One farm, watched until ``stop`` is set."""

    def __init__(self, farm: Farm, options: Options) -> None:
        self.farm = farm
        self.options = options
        self.clock = options.clock or SystemClock()
        figures_s = max(self.clock.real_seconds(FIGURES_APART_S), CHANGES_APART_S)
        self.changes = Changes(figures_apart_s=figures_s)
        self.stop = asyncio.Event()
        self.anew = False
        self._written = asyncio.Event()
        self._supervisor = Supervisor()
        self._courier: Courier | None = None
        self._stop_by_s = float("inf")

    async def run(self) -> None:
        """Watch the farm until told to stop.

        Raises
        ------
        BusyError
            If another daemon watches this farm, or the port is taken.
        StoreError
            If a file of the store cannot be opened.
        FarmError, BrokerError
            If a batch stands in a place that is gone, or the broker cannot be joined so.
        """
        data = self.farm.data_dir
        with lock_farm(data), contextlib.ExitStack() as stack:
            self.reserve = Reserve(data / "reserve")
            self.reserve.make()
            self.store, self.ledger = open_files(self.farm, self.reserve)
            stack.callback(self.store.close)
            stack.callback(self.ledger.close)
            self.book = fold(self.ledger.entries())
            reloading.check_usable(self.farm, self.book)
            host, port = self._where()
            refuse_open(self.farm, host)
            refuse_unsound(self.farm.web)
            self.door = listen(host, port)
            stack.callback(self.door.close)
            self.broker = self._started_broker(self.farm)
            stack.callback(self._stop_broker)
            self._build()
            await self._together()

    def _where(self) -> tuple[str, int]:
        web, asked = self.farm.web, self.options
        host, port = asked.listen or (web.host, web.port)
        return host, port if asked.port is None else asked.port

    def _build(self) -> None:
        now_ms = self.clock.now_ms()
        self.ledger.accept_configuration(self.farm.texts, self.farm.digest, now_ms, "start")
        self.ledger.readdress(marks_of(_addresses(self.farm)))
        self.judge = Judge(
            self.farm, self.ledger, self.clock, self.book, nothing_yet(self.farm, now_ms),
            on_change=self.changes.tell, on_figures=self.changes.tell_figures,
            on_told=self._wake_courier, on_lost=self._begin_anew,
            reckon=Costing(self.store.reader, lambda: self.judge.state.posted),
        )  # fmt: skip
        self.judge.begin(restored(self.farm, self.book, self.store, self.ledger, now_ms))
        chores.put_off_silences(self.judge, now_ms)
        told = Told(self._taken, self._store_failed, self._store_back)
        self.keeping = Keeping(self.store, self.reserve, let_go=self.reserve.starved)
        owed = OwedInLedger(self.ledger)
        self.intake = Intake(lambda: self.farm, self.keeping, self.clock, told, self.broker, owed)
        self.mirroring = Mirroring(self.clock)
        heart = Heartbeat(self.judge, self.clock, self.intake.say)
        self.disk = Disk(self.farm.data_dir, self.store.reader, self.ledger, self.clock)
        self.watching = Watching(
            self.judge, self.intake, self.store, self.clock, self._wake_courier, heart, self.disk
        )
        self.condition = Condition(
            self.judge,
            self.store,
            self.intake,
            self._supervisor,
            heart=heart,
            mirroring=self.mirroring,
            disk=self.disk,
        )
        self._start_courier()
        self.mirroring.use(self.farm)
        backups = Backups(lambda: self.farm, self.ledger, self.clock)
        self.upkeep = UpkeepThread((self.disk.measure, backups.turn, self._thin))
        self.upkeep.start()

    def _thin(self) -> None:
        if self.farm.thin_after_months is not None:
            from monitor.daemon.thinning import Thinning  # noqa: PLC0415 - seldom needed

            Thinning(lambda: self.farm, self.ledger, self.clock).turn()

    # -- parts ---------------------------------------------------------------------------

    async def _together(self) -> None:
        keep = self._supervisor.keep
        tls = self.farm.web.certificate is not None
        address = "http{}://{}:{}".format("s" * tls, *self.door.getsockname()[:2])
        loop = asyncio.get_running_loop()
        desk = RunningDesk(
            self.judge, self.clock, self.changes, self.condition.health, self.store.reader,
            reload=lambda: loop.call_soon_threadsafe(self._written.set),
        )  # fmt: skip
        parts = {
            "intake": self.intake.run,
            "watch": self.watching.run,
            "outlook": Outlooks(self.judge, self.store, self.clock, self._wake_courier).run,
            "configuration": self._reload,
            "pages": lambda: serve(create_app(desk), self.door, self.changes, self.farm.web),
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
        self._stop_by_s = monotonic_s() + _STOP_S
        for task in tasks:
            task.cancel()

    async def _drain(self) -> None:
        tell_manager("STOPPING=1")
        await self.judge.write()
        with contextlib.suppress(StoreError):  # a restart judges again from the last note
            self.judge.note_judged()
        await asyncio.to_thread(self.mirroring.stop)
        await asyncio.to_thread(self.upkeep.stop)
        if self._courier is not None:
            left_s = max(self._stop_by_s - monotonic_s(), 0.5)
            await asyncio.to_thread(self._courier.stop, min(left_s, 3.0))

    # -- configuration -------------------------------------------------------------------

    async def _reload(self) -> None:
        files = reloading.Reloading(self.farm.directory)
        while True:
            written = await self._some_time()
            if not await asyncio.to_thread(files.changed, written=written):
                continue
            now_ms, refused = self.clock.now_ms(), ""
            try:
                farm = await asyncio.to_thread(reloading.take, self.farm.directory, self.judge.book)
                if farm != self.farm:
                    await self._use(farm, now_ms)
            except (FarmError, BrokerError) as failure:
                refused = str(failure)
                log.error("the changed configuration is refused: %s", refused)  # noqa: TRY400
            kind = AlarmKind.CONFIGURATION_REFUSED
            self.judge.own(kind, now_ms, bad=bool(refused), detail=refused)
            self.watching.woken.set()

    async def _some_time(self) -> bool:
        """Wait until it is time to look at the files; return whether a page has written them."""
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(self._written.wait(), _LOOK_S)
        written = self._written.is_set()
        self._written.clear()
        return written

    async def _use(self, farm: Farm, now_ms: int) -> None:
        old = self.farm
        own = (old.broker.embedded, farm.broker.embedded)
        if any(own) and old.broker != farm.broker:
            await asyncio.to_thread(self._change_broker, old, farm)
        if farm.people != old.people:
            await asyncio.to_thread(self._stop_courier)
            self.ledger.readdress(marks_of(_addresses(farm)))  # before anything is told by it
        self.farm = farm
        self.judge.use(farm, now_ms)
        topics = {each.topic for each in old.sensors.values()}
        same_topic = farm.watcher.topic == old.watcher.topic
        same = (
            same_topic
            and farm.broker == old.broker
            and topics == {e.topic for e in farm.sensors.values()}
        )
        self.intake.use(farm, reconnect=not same)
        if farm.people != old.people:
            await asyncio.to_thread(self._start_courier)
        if farm.web != old.web and self.options.port is None:
            log.warning("[pages] has changed: the pages move at the next start")
        await asyncio.to_thread(self._accept, farm, now_ms)
        await asyncio.to_thread(self.mirroring.use, farm)
        log.info("the changed configuration is in force")

    def _accept(self, farm: Farm, now_ms: int) -> None:
        try:
            self.ledger.accept_configuration(farm.texts, farm.digest, now_ms, "file changed")
        except StoreError as failure:
            log.error("the changed configuration is in force, not kept: %s", failure)  # noqa: TRY400

    def _started_broker(self, farm: Farm) -> EmbeddedBroker | None:
        broker = embedded_broker(farm)
        if broker is not None:
            broker.start()
        return broker

    def _stop_broker(self) -> None:
        if self.broker is not None:
            self.broker.stop()

    def _change_broker(self, old: Farm, farm: Farm) -> None:
        """Change to, from or between brokers of our own; the old one goes on if that fails."""
        self._stop_broker()
        try:
            self.broker = self._started_broker(farm)
        except BrokerError:
            self.broker = self._started_broker(old)
            raise
        finally:
            self.intake.broker = self.broker

    # -- courier -------------------------------------------------------------------------

    def _start_courier(self) -> None:
        pictures_to = {
            (each.id, str(number)) for each in self.farm.people.values() for number in each.pictures
        }
        self._courier = Courier(
            self.farm.data_dir / "ledger.db", addresses_of(_addresses(self.farm)), self.clock,
            self.options.on_notice, base_url=self.farm.web.base_url, pictures_to=pictures_to,
            speaks={each.id: each.speak for each in self.farm.people.values()},
            picture=Picturing(
                lambda: self.farm, self.ledger, self.store.reader, self.clock,
                lambda: self.judge.state.posted,
            ),
        )  # fmt: skip
        self._courier.start()
        self.condition.unusable = self._courier.unusable()

    def _stop_courier(self) -> None:
        if self._courier is not None:
            self._courier.stop(3.0)

    def _wake_courier(self) -> None:
        if self._courier is not None:
            self._courier.wake()

    # -- told in the loop -------------------------------------------------

    def _taken(self, taken: Taken) -> None:
        self.judge.readings(taken.readings)
        self.condition.remember(taken.last_known)
        if self.judge.pending:
            self.watching.woken.set()

    def _begin_anew(self) -> None:
        """Stop, to start over: what the old ledger knew as told is to be told by the new one."""
        self.anew = True
        self.stop.set()

    def _store_failed(self, reason: str) -> None:
        self.keeping.release()
        self.judge.own(AlarmKind.STORE_FAILED, self.clock.now_ms(), bad=True, detail=reason)
        self.watching.woken.set()

    def _store_back(self) -> None:
        self.judge.own(AlarmKind.STORE_FAILED, self.clock.now_ms(), bad=False)
        self.watching.woken.set()


async def run(farm: Farm, options: Options) -> None:
    """Watch a farm until SIGINT or SIGTERM."""
    daemon, told = Daemon(farm, options), asyncio.Event()

    def end() -> None:
        told.set()
        daemon.stop.set()

    loop = asyncio.get_running_loop()
    for name in (signal.SIGINT, signal.SIGTERM):
        loop.add_signal_handler(name, end)
    await daemon.run()
    while daemon.anew and not told.is_set():
        daemon = Daemon(daemon.farm, options)
        await daemon.run()


def _addresses(farm: Farm) -> dict[str, tuple[SecretStr, ...]]:
    return {each.id: each.addresses for each in farm.people.values()}
