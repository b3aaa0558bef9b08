"""Changing the farm's files from a page or a command."""

import difflib
import fcntl
import os
from datetime import date
from pathlib import Path

import pytest

from monitor.errors import BusyError, FarmError, UnknownNameError
from monitor.farm import Farm
from monitor.farm.editing import (
    Change,
    NewChannel,
    NewSensor,
    add_address,
    add_calibration,
    add_person,
    add_place,
    add_sensor,
    change_limits,
    free_id,
    remove_address,
    remove_person,
    remove_sensor,
    save,
    set_duty,
    set_person,
    set_place,
    set_rules,
    set_sensor,
    set_stage,
)
from monitor.model import PlaceKind, Quantity
from tests.farm.folders import Folder

AIR = Quantity.TEMPERATURE
SHELF = NewSensor(
    "cellar-shelf", "dry-store", "farm/cellar", "60 s",
    (NewChannel(AIR, "air.t", "F"), NewChannel(Quantity.HUMIDITY, "air.h", "%")),
)  # fmt: skip


def changed_lines(folder: Folder, *changes: Change) -> tuple[list[str], list[str]]:
    """Make changes; return the lines that are gone and those that are new."""
    file = changes[0].file
    before = (folder.path / file).read_text(encoding="utf-8").splitlines()
    save(folder.path, changes)
    after = (folder.path / file).read_text(encoding="utf-8").splitlines()
    differing = list(difflib.ndiff(before, after))
    gone = [line[2:] for line in differing if line.startswith("- ")]
    return gone, [line[2:] for line in differing if line.startswith("+ ")]


def test_one_limit_changes_one_line(folder: Folder) -> None:
    """A new harm limit rewrites its own line and no other: notes and order stay."""
    source = "set by Robin: door seal is old"
    gone, new = changed_lines(
        folder, change_limits("walk-in-cooler", AIR, {"harm.high": "43 F"}, {}, source)
    )
    assert len(gone) == len(new) == 1
    assert gone[0].startswith("harm = ")
    assert new[0].startswith("harm = ")
    band = folder.load().places["walk-in-cooler"].bands[AIR]
    assert band.harm is not None
    assert band.harm.high == pytest.approx((43 - 32) / 1.8)
    assert band.harm.low == pytest.approx((33 - 32) / 1.8)
    assert (band.harm.grade.value, band.harm.source) == ("farm", source)
    assert band.ideal is not None
    assert band.ideal.grade.value == "CP"  # it was not changed: its own source stands


def test_a_change_of_nothing_leaves_the_file(folder: Folder) -> None:
    """Without a limit that was touched the file stays byte for byte."""
    before = (folder.path / "farm.toml").read_bytes()
    save(folder.path, [change_limits("walk-in-cooler", AIR, {}, {}, "no change")])
    assert (folder.path / "farm.toml").read_bytes() == before


def test_a_place_without_bands_gets_its_own(folder: Folder) -> None:
    """A tunnel that had its kind's limits has its own for what was set, its kind's for the rest."""
    touched = {"harm.low": "28 F", "tolerated.low": "1 h"}
    save(folder.path, [change_limits("tunnel-1", AIR, touched, {}, "set by Robin: young plants")])
    farm = folder.load()
    harm = farm.places["tunnel-1"].bands[AIR].harm
    assert harm is not None
    assert harm.low == pytest.approx((28 - 32) / 1.8)
    assert farm.places["tunnel-1"].bands[Quantity.HUMIDITY].ideal is not None
    assert farm.places["tunnel-2"].bands[AIR].harm != harm


def test_a_found_sensor_is_read_as_it_was_described(folder: Folder) -> None:
    """A sensor that is added has its topic, place, paths and units; all else stands."""
    gone, _ = changed_lines(folder, add_sensor(SHELF))
    assert gone == []
    sensor = folder.load().sensors["cellar-shelf"]
    assert (sensor.topic, sensor.place, sensor.interval_s) == ("farm/cellar", "dry-store", 60.0)
    assert [(each.quantity, each.path, each.unit) for each in sensor.channels] == [
        (AIR, "air.t", "F"),
        (Quantity.HUMIDITY, "air.h", "%"),
    ]


def test_a_mistake_writes_nothing(folder: Folder) -> None:
    """A sensor in a place that is not there is refused, and no file or scrap stays behind."""
    before = {each.name: each.read_bytes() for each in folder.path.iterdir()}
    wrong = add_sensor(NewSensor("x", "moon", "farm/x", "60 s", SHELF.channels))
    with pytest.raises(FarmError, match="moon"):
        save(folder.path, [wrong], secrets={"secrets/x": "y"})
    after = {each.name: each for each in folder.path.iterdir()}
    assert after.keys() - before.keys() <= {".changing", "secrets"}
    assert list((folder.path / "secrets").iterdir()) == []
    assert all(after[name].read_bytes() == content for name, content in before.items())


def test_what_the_farm_cannot_use_writes_nothing(folder: Folder) -> None:
    """A change that is sound in itself, and cannot be used here, is refused."""
    before = (folder.path / "farm.toml").read_bytes()

    def never(_: Farm) -> None:
        raise FarmError("a batch stands there")

    with pytest.raises(FarmError, match="stands there"):
        save(folder.path, [add_sensor(SHELF)], usable=never)
    assert (folder.path / "farm.toml").read_bytes() == before


def test_a_file_that_changed_meanwhile_is_left_alone(folder: Folder) -> None:
    """What was looked at before someone else wrote is not written over."""
    looked_at = folder.load().digest
    save(folder.path, [add_sensor(SHELF)], digest=looked_at)
    with pytest.raises(FarmError, match="changed by someone else"):
        save(folder.path, [set_rules({"quiet_from": "22:00"})], digest=looked_at)
    assert folder.load().notices.quiet_from != "22:00"


def test_two_do_not_write_at_once(folder: Folder) -> None:
    """While one change is being written another is told to wait."""
    with (folder.path / ".changing").open("w") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        with pytest.raises(BusyError, match="press once more"):
            save(folder.path, [add_sensor(SHELF)])


def test_rights_and_line_ends_stay(folder: Folder) -> None:
    """A file keeps its rights, and one written on another system keeps its line ends."""
    file = folder.path / "farm.toml"
    file.write_bytes(file.read_bytes().replace(b"\n", b"\r\n"))
    file.chmod(0o640)
    save(folder.path, [set_rules({"quiet_from": "22:00"})])
    content = file.read_bytes()
    assert file.stat().st_mode & 0o777 == 0o640
    assert content.count(b"\n") == content.count(b"\r\n")
    assert b'quiet_from = "22:00"' in content


def test_an_address_is_a_secret_of_its_own(folder: Folder) -> None:
    """A new person's address lies in a file for the owner alone, not in the farm's."""
    name = "secrets/alex-1"
    person = add_person("alex", "Alex", [f"file:{name}"])
    farm = save(folder.path, [person], secrets={name: "json://127.0.0.1:9/x\n"})
    assert farm.people["alex"].addresses[0].get_secret_value() == "json://127.0.0.1:9/x"
    assert (folder.path / name).stat().st_mode & 0o777 == 0o600
    assert "127.0.0.1:9" not in (folder.path / "people.toml").read_text(encoding="utf-8")


def test_a_secret_is_never_written_over(folder: Folder) -> None:
    """An address's file that is there already stays, and the change is refused."""
    (folder.path / "secrets").mkdir()
    (folder.path / "secrets" / "alex-1").write_text("old", encoding="utf-8")
    with pytest.raises(FarmError, match="nothing was changed"):
        save(folder.path, [add_person("alex", "Alex")], secrets={"secrets/alex-1": "new"})
    assert (folder.path / "secrets" / "alex-1").read_text(encoding="utf-8") == "old"


def test_people_and_duty(folder: Folder) -> None:
    """A name changes in its line; turns of duty are replaced as a whole."""
    gone, new = changed_lines(folder, set_person("robin", {"name": "Robin A."}))
    assert (gone, new) == (['name = "Robin"'], ['name = "Robin A."'])
    save(folder.path, [set_duty([{"person": "robin", "weekdays": ["sat", "sun"]}])])
    save(folder.path, [set_duty([{"person": "robin", "first": date(2026, 12, 1)}])])
    (turn,) = folder.load().duty
    assert (turn.person, turn.first) == ("robin", date(2026, 12, 1))


def test_pictures_stay_with_their_address(folder: Folder) -> None:
    """Addresses are counted from one: when the first goes, the second's pictures follow it."""
    values = {"addresses": ["json://127.0.0.1:9/a", "json://127.0.0.1:9/b"], "pictures": [1, 2]}
    save(folder.path, [set_person("robin", values)])
    save(folder.path, [remove_address("robin", 1)])
    robin = folder.load().people["robin"]
    assert [each.get_secret_value() for each in robin.addresses] == ["json://127.0.0.1:9/b"]
    assert "pictures = [1]" in (folder.path / "people.toml").read_text(encoding="utf-8")


def test_places(folder: Folder) -> None:
    """A place is added with the bands of its kind; a fact of it can be taken out again."""
    save(folder.path, [
        add_place("cooler-2", "Small cooler", PlaceKind.COOLER),
        set_place("walk-in-cooler", {"first_look": None, "name": "Big cooler"}),
    ])  # fmt: skip
    farm = folder.load()
    assert farm.places["cooler-2"].bands[AIR].harm is not None
    assert farm.places["walk-in-cooler"].name == "Big cooler"
    assert (
        farm.places["walk-in-cooler"].first_look == "door, breaker, ice on the coil"
    )  # its kind's


def test_a_check_in_ice_water(folder: Folder) -> None:
    """A correction holds from its day on; a second of the same day takes its place."""
    day = date(2026, 3, 14)
    for offset in ("-0.4 F", "-0.6 F"):
        save(folder.path, [add_calibration("cooler-door-side", AIR, day, offset, "ice bath")])
    (kept,) = folder.load().sensors["cooler-door-side"].channels[0].calibrations
    assert kept.offset == pytest.approx(-0.6 / 1.8)
    with pytest.raises(UnknownNameError, match="measures no soil_temperature"):
        save(folder.path, [
            add_calibration("cooler-door-side", Quantity.SOIL_TEMPERATURE, day, "0 F", "")
        ])  # fmt: skip


def test_a_stage(folder: Folder) -> None:
    """The longest time of a step is changed with its grade and source, and nothing else."""
    change = set_stage("ranunculus", "pre_sprout", {"longest": "16 d"}, "set by Robin: slow lot")
    save(folder.path, [change])
    stage = folder.load().crops["ranunculus"].stages["pre_sprout"]
    assert stage.longest_s == 16 * 86_400


@pytest.mark.skipif(os.geteuid() != 0, reason="only root may give a file away")
def test_the_owner_stays(folder: Folder) -> None:
    """A change made by the machine's keeper leaves the files to the monitor's own user."""
    file = folder.path / "farm.toml"
    os.chown(file, 12345, 12345)
    save(folder.path, [set_rules({"quiet_from": "22:00"})])
    assert (file.stat().st_uid, file.stat().st_gid) == (12345, 12345)


def test_an_unknown_id_is_named(folder: Folder) -> None:
    """What is to be changed and is not there is named."""
    with pytest.raises(UnknownNameError, match="no place with the id moon"):
        save(folder.path, [set_place("moon", {"name": "Moon"})])


def test_a_full_disk_leaves_the_farm(folder: Folder, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that refuses leaves the file as it was, and says so."""
    before = (folder.path / "farm.toml").read_bytes()

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(FarmError, match="No space left"):
        save(folder.path, [set_rules({"quiet_from": "22:00"})])
    assert (folder.path / "farm.toml").read_bytes() == before
    assert not [
        each for each in Path(folder.path).iterdir() if each.is_dir() and "secrets" not in each.name
    ]


def test_a_sensor_is_moved_by_one_line_and_ends_with_its_own(folder: Folder) -> None:
    """Moving rewrites one line; taking out takes its own lines and no other sensor's."""
    gone, new = changed_lines(folder, set_sensor("cooler-back", {"place": "dry-store"}))
    assert (len(gone), len(new)) == (1, 1)
    assert folder.load().sensors["cooler-back"].place == "dry-store"
    before = folder.load().sensors
    _, new = changed_lines(folder, remove_sensor("cooler-back"))
    assert new == []
    assert dict(folder.load().sensors) == {k: v for k, v in before.items() if k != "cooler-back"}
    with pytest.raises(UnknownNameError, match="cooler-back"):
        save(folder.path, [remove_sensor("cooler-back")])


def test_the_last_sensor_may_go(folder: Folder) -> None:
    """A farm without any sensor is a farm, and one can be added again."""
    save(folder.path, [remove_sensor(each) for each in folder.load().sensors])
    assert folder.load().sensors == {}
    save(folder.path, [add_sensor(SHELF)])
    assert list(folder.load().sensors) == ["cellar-shelf"]


def test_whoever_leaves_takes_their_turns_of_duty_along(folder: Folder) -> None:
    """The others' turns stay as they were."""
    save(folder.path, [add_person("ida", "Ida"), add_person("col", "Col", role="see")])
    turns = [{"person": "ida", "weekdays": ["sat"]}, {"person": "col", "weekdays": ["sun"]}]
    save(folder.path, [set_duty(turns)])
    save(folder.path, [remove_person("ida")])
    farm = folder.load()
    assert "ida" not in farm.people
    assert [(each.person, each.weekdays) for each in farm.duty] == [("col", (6,))]


def test_an_address_comes_and_goes_by_its_number(folder: Folder) -> None:
    """Its text is in a file of its own; a number that is not there is refused."""
    save(folder.path, [add_person("ida", "Ida")])
    kept = {"secrets/ida-1": "json://127.0.0.1:9/ida"}
    save(folder.path, [add_address("ida", "file:secrets/ida-1")], secrets=kept)
    assert "127.0.0.1:9" not in (folder.path / "people.toml").read_text(encoding="utf-8")
    assert len(folder.load().people["ida"].addresses) == 1
    with pytest.raises(UnknownNameError, match="not there any more"):
        save(folder.path, [remove_address("ida", 2)])
    save(folder.path, [remove_address("ida", 1)])
    assert folder.load().people["ida"].addresses == ()


def test_a_new_id_is_free_and_fits() -> None:
    """A taken one is counted on, a long one cut, and one of no letters has a stand-in."""
    assert free_id({"shelf", "shelf-2"}, "Shelf", "sensor") == "shelf-3"
    assert len(free_id((), "x" * 300, "sensor")) <= 64
    assert free_id((), "???", "sensor") == "sensor"
