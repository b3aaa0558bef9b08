"""One soak: a farm, its broker and its mail, troubles for a while, and the reckoning."""

import random
import shutil
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from monitor.store import Ledger
from tests.system.brokers import Mosquitto, wait_until
from tests.system.daemons import Watched
from tests.system.disks import small_disk
from tests.system.relay import Relay
from tests.system.sinks import Mailbox, mail_server
from tests.system.soak.farm import CROPS, PEOPLE, Voice, farm_text
from tests.system.soak.publishing import Publisher
from tests.system.soak.reckoning import Kept, kept, wrong_alarms, wrong_mails, wrong_notices
from tests.system.soak.spells import Spells, alarms_in
from tests.system.soak.troubles import SAVED_S, Troubles

DISK_MB: Final = 40


@dataclass
class Outcome:
    """What a soak has shown."""

    seed: int
    lasted_s: float
    kept: Kept
    spells: int
    alarms: int
    notices: int
    mails: int
    befallen: dict[str, int]
    slowest_stop_s: float
    faults: list[str] = field(default_factory=list)

    def summary(self) -> str:
        """Return it on one line."""
        told = ", ".join(f"{name} {count}" for name, count in sorted(self.befallen.items()))
        held = self.kept
        return (
            f"{'FAILED' if self.faults else 'held'}: seed {self.seed}, {self.lasted_s:.0f} s, "
            f"{held.acked:,} readings acknowledged by the broker, {held.once:,} stored once, "
            f"{len(held.doubled)} twice, {len(held.lost)} lost; {held.with_broker} lost with a "
            f"killed broker (saves every {SAVED_S:g} s), {held.on_full_disk} judged and not kept "
            f"on a full disk ({held.gaps} told as gaps); {self.spells} spells, {self.alarms} "
            f"alarms, {self.notices} notices, {self.mails} mails; {told}; slowest stop "
            f"{self.slowest_stop_s:.1f} s; {len(self.faults)} faults"
        )


@contextmanager
def _parts(seed: int, voices: Sequence[Voice], rate: float) -> Iterator[tuple[Troubles, Mailbox]]:
    with ExitStack() as stack:
        top = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        (top / "broker").mkdir()
        broker = Mosquitto(top / "broker").start()
        stack.callback(broker.stop)
        relay = Relay(broker.port)
        stack.callback(relay.close)
        mailbox, address = stack.enter_context(mail_server())
        farm = Watched(top / "farm", program=("-m", "tests.system.stepped_daemon"))
        farm.folder.mkdir()
        files = {
            "farm": farm_text(list(voices), relay.port), "crops": CROPS,
            "people": PEOPLE.format(address=address.get_secret_value()),
        }  # fmt: skip
        for name, text in files.items():
            (farm.folder / f"{name}.toml").write_text(text, encoding="utf-8")
        stack.enter_context(small_disk(farm.folder / "data", DISK_MB))
        stack.callback(farm.kill)
        farm.start()
        publisher = Publisher(broker.port, voices, rate)
        yield Troubles(farm, broker, relay, publisher, random.Random(seed)), mailbox  # noqa: S311


def soak(
    seed: int, lasting_s: float, names: Sequence[str] = (), *, sensors: int = 40,
    rate: float = 60.0, keep: Path | None = None,
) -> Outcome:  # fmt: skip
    """Let trouble befall a farm for a while, every kind at least once; return what is left. [s]

    ``names`` are the kinds of trouble; all of them where none is given. ``keep`` is where the
    farm's files and its log go in the end.
    """
    voices = [Voice(number) for number in range(sensors)]
    begun_s = time.monotonic()
    with _parts(seed, voices, rate) as (troubles, mailbox):
        troubles.publisher.start()
        ledger = troubles.data / "ledger.db"
        spells = Spells(ledger, voices[-6:], random.Random(seed + 1)).start()  # noqa: S311
        until_s = time.monotonic() + lasting_s
        names = names or list(troubles.kinds())
        for name in _order(troubles, names):
            troubles.befall(name)
            time.sleep(troubles.dice.uniform(0.2, 2.0))
            if time.monotonic() > until_s and set(troubles.befallen) == set(names):
                break
        wait_until(troubles.farm.ready, 60)
        spells.stop()
        troubles.publisher.stop()
        troubles.caught_up()
        _drained(ledger)
        outcome = _reckoned(seed, troubles, spells, mailbox)
        if keep is not None:
            shutil.copytree(troubles.data, keep)
            (keep / "log").write_text(troubles.farm.log, encoding="utf-8")
            (keep / "troubles").write_text("\n".join(troubles.diary), encoding="utf-8")
    outcome.lasted_s = time.monotonic() - begun_s
    return outcome


def _order(troubles: Troubles, names: Sequence[str]) -> Iterator[str]:
    """Yield each trouble once in a random order, then all again in another."""
    while True:
        yield from troubles.dice.sample(list(names), len(names))


def _drained(ledger: Path) -> None:
    """Wait until no notice waits, and then see that no more are sent."""

    def quiet() -> bool:
        opened = Ledger.open(ledger)
        waiting = [each for each in opened.notices(100_000) if each.status == "waiting"]
        opened.close()
        return not waiting

    wait_until(quiet, 400)
    time.sleep(3.0)


def _reckoned(seed: int, troubles: Troubles, spells: Spells, mailbox: Mailbox) -> Outcome:
    alarms = alarms_in(troubles.data / "ledger.db")
    with troubles.farm.ledger() as ledger:
        notices = ledger.notices(100_000)
    with troubles.farm.readings() as reader:
        held = kept(reader, troubles.publisher.sent, troubles.broker_killed_s, troubles.full_s)
    kills = sum(
        troubles.befallen.get(each, 0) for each in ("killed", "dark", "booted in another time")
    )
    mails = [f"{each['subject']}\n{each.get_content()}" for each in mailbox.mails]
    faults = [
        *held.faults(), *spells.missed,
        *wrong_alarms(alarms, troubles.full_told),
        *wrong_notices(alarms, notices, spells.raised), *wrong_mails(notices, mails, kills),
    ]  # fmt: skip
    if "died" in troubles.farm.log or "Traceback" in troubles.farm.log:
        faults.append(f"the log tells of a defect: {troubles.farm.log[-2000:]}")
    slowest = troubles.slowest_stop_s
    if slowest >= 5.0:
        faults.append(f"a stop took {slowest:.1f} s")
    return Outcome(
        seed, 0.0, held, sum(spells.raised.values()), len(alarms), len(notices), len(mails),
        troubles.befallen, slowest, faults,
    )  # fmt: skip
