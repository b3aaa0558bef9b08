"""The daemon on a full disk and over damaged files: alarms go out all the same."""

import os
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from urllib.error import HTTPError
from urllib.request import urlopen

import pytest
from pydantic import SecretStr

from monitor.model import AlarmKind
from tests.system.brokers import Mosquitto, wait_until
from tests.system.daemons import Watched
from tests.system.disks import fill, small_disk
from tests.system.playing import BATCH, COLD_C, SPELL, WARM_C, Player
from tests.system.sinks import Mailbox

pytestmark = pytest.mark.system

Mail = tuple[Mailbox, SecretStr]
Farms = Callable[..., Watched]


def kinds(farm: Watched) -> set[AlarmKind]:
    """Return the kinds of alarms that were raised so far, but that the disk is nearly full."""
    with farm.ledger() as ledger:
        return {each.key.kind for each in ledger.alarms()} - {AlarmKind.DISK_SHORT}


def told(mail: Mail) -> list[str]:
    """Return the subjects of what was told, but that the disk is nearly full."""
    subjects = [str(each["Subject"]) for each in mail[0].mails]
    return [each for each in subjects if "disk" not in each]


def test_on_a_full_disk_readings_are_judged_and_it_is_told(
    farms: Farms, mosquitto: Mosquitto, mail: Mail
) -> None:
    """Harm is told though nothing can be stored, and so is that; with room it recovers."""
    farm = farms(mosquitto.port, mail[1])
    data = farm.folder / "data"
    with small_disk(data, 32):
        farm.start()
        player = Player(farm, mosquitto.port, 62)
        player.play(*SPELL[:6])
        filler = fill(data)
        player.send(SPELL[6:])
        wait_until(lambda: kinds(farm) == {AlarmKind.TOO_WARM, AlarmKind.STORE_FAILED}, 30)
        wait_until(lambda: len(told(mail)) == 2)
        assert not farm.ready()
        player.play(WARM_C)
        filler.unlink()
        player.play(*[COLD_C] * 4)
        wait_until(farm.ready)
        wait_until(lambda: len(told(mail)) == 4)
        assert farm.stop() < 5.0
        assert "part watch died" not in farm.log
        assert (data / "reserve").stat().st_size > 0


def test_a_start_on_a_full_disk_lets_the_reserve_go(
    farms: Farms, mosquitto: Mosquitto, mail: Mail
) -> None:
    """A daemon that starts on a full disk runs, judges and tells."""
    farm = farms(mosquitto.port, mail[1])
    data = farm.folder / "data"
    with small_disk(data, 32):
        farm.start().stop()
        assert (data / "reserve").exists()
        fill(data)
        farm.start(ready=False)
        wait_until(lambda: farm.get("/health/ready")["broker"] == "connected" if farm.ready()
                   else True)  # fmt: skip
        Player(farm, mosquitto.port, 61).send(SPELL)
        wait_until(lambda: AlarmKind.TOO_WARM in kinds(farm), 30)
        wait_until(lambda: mail[0].mails != [])


def spoil(path: Path) -> None:
    """Overwrite a file's middle as a power cut does, under whoever has it open."""
    with path.open("r+b") as file:
        size = path.stat().st_size
        file.seek(size // 8)
        file.write(os.urandom(size * 3 // 4))


@pytest.mark.parametrize("running", [False, True])
def test_a_damaged_readings_file_is_set_aside_and_alarms_go_out(
    farms: Farms, mosquitto: Mosquitto, mail: Mail, *, running: bool
) -> None:
    """Found damaged at the start or in the run, it is named, and harm is told all the same."""
    farm = farms(mosquitto.port, mail[1]).start()
    player = Player(farm, mosquitto.port, 361)
    player.play(*[COLD_C] * 300)
    readings = farm.folder / "data" / "readings.db"
    farm.stop()  # copies the log into the file
    if running:
        farm.start()
        spoil(readings)
        with suppress(HTTPError):  # whoever reads meets the damage first: here an open page
            urlopen(f"{farm.address}/places/walk-in-cooler", timeout=10).close()  # noqa: S310
    else:
        spoil(readings)
        farm.start()
    player.send(SPELL)
    wait_until(lambda: AlarmKind.TOO_WARM in kinds(farm), 30)
    wait_until(lambda: mail[0].mails != [])
    wait_until(lambda: list(readings.parent.glob("readings-damaged-*.db")) != [])
    (aside,) = readings.parent.glob("readings-damaged-*.db")
    wait_until(lambda: aside.name in str(farm.get("/health/ready")["troubles"]))
    player.play(WARM_C)
    assert "died" not in farm.log
    assert farm.stop() < 5.0


def overwrite(ledger: Path) -> bytes:
    """Overwrite a ledger and its log from the first page on; return what its file holds now."""
    for each in ledger.parent.glob(f"{ledger.name}*"):
        with each.open("r+b") as file:
            file.write(os.urandom(each.stat().st_size))
    return ledger.read_bytes()


@pytest.mark.parametrize("running", [False, True])
def test_a_ledger_that_is_lost_is_set_aside_and_the_farm_is_watched(
    farms: Farms, mosquitto: Mosquitto, mail: Mail, *, running: bool
) -> None:
    """Killed and overwritten, or overwritten in the run: it is told, and harm is told anew."""
    farm = farms(mosquitto.port, mail[1]).start()
    assert farm.run("batch", "add", *BATCH).returncode == 0
    player = Player(farm, mosquitto.port, 61)
    player.send(SPELL)
    wait_until(lambda: kinds(farm) == {AlarmKind.TOO_WARM}, 30)
    wait_until(lambda: len(told(mail)) == 1)
    ledger = farm.folder / "data" / "ledger.db"
    if running:
        overwrite(ledger)
        files = farm.folder / "farm.toml"
        sound = files.read_text("utf-8")
        files.write_text(sound + "\nnonsense", "utf-8")  # something to write down
        wait_until(lambda: "it begins anew" in farm.log, 30)
        files.write_text(sound, "utf-8")
    else:
        farm.kill()
        damaged = overwrite(ledger)
        farm.start()
        (aside,) = ledger.parent.glob("ledger-damaged-*.db")
        tail = aside.with_name(aside.name + ".tail")
        assert aside.read_bytes() + (tail.read_bytes() if tail.exists() else b"") == damaged
    wait_until(lambda: kinds(farm) >= {AlarmKind.TOO_WARM, AlarmKind.RECORD_LOST}, 40)
    wait_until(lambda: any("record of batches is lost" in each for each in told(mail)), 30)
    (aside,) = ledger.parent.glob("ledger-damaged-*.db")
    assert aside.name in farm.log
    assert farm.run("batch", "add", *BATCH).returncode == 0
    wait_until(lambda: any("record of batches goes on" in each for each in told(mail)), 30)
    assert "Traceback" not in farm.log
