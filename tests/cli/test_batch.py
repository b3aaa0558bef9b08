"""``cormwatch batch`` from the command line, on a small made-up farm."""

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from monitor.cli import main
from tests.cli.small_farm import small_farm

Run = Callable[..., Any]


@pytest.fixture
def batch(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    """Return a runner of ``batch`` words: its JSON with --json, else (code, out, err)."""
    small_farm(tmp_path)

    def run(*words: str) -> Any:  # noqa: ANN401 - JSON or the three
        code = main(["batch", *words, "--farm", str(tmp_path)])
        told = capsys.readouterr()
        if "--json" in words:
            assert code == 0, told.err
            return json.loads(told.out)
        return code, told.out, told.err

    return run


def add(batch: Run, *more: str, **options: str) -> Any:  # noqa: ANN401 - one batch's JSON
    """Add a batch of ranunculus corms, or what the options say."""
    given = {
        "crop": "ranunculus", "cultivar": "Dawn Apricot", "count": "300",
        "place": "sprouting-room", "stage": "pre_sprout", "at": "30 d ago", "by": "Wren",
    } | options  # fmt: skip
    words = [word for key, value in given.items() for word in (f"--{key}", value)]
    return batch("add", *words, *more, "--json")


def stems(batch: Run, count: str = "300") -> Any:  # noqa: ANN401 - one batch's JSON
    """Add a batch of cut stems in the cooler."""
    return add(batch, place="walk-in cooler", stage="cut stems", count=count, at="3 d ago")


def test_a_batch_is_added_listed_and_shown(batch: Run) -> None:
    """What is added stands in the list and in its own sheet, with who recorded it."""
    added = add(batch, "--supplier", "Fen Bulbs", "--lot", "7B", "--grade", "5/6")
    assert (added["id"], added["count"], added["rough"]) == (1, 300, False)
    assert (added["place"], added["stage"]) == ("sprouting-room", "pre_sprout")
    listed = batch("list", "--json")
    assert listed == [added]
    shown = batch("show", "1", "--json")
    assert (shown["supplier"], shown["lot"], shown["grade"]) == ("Fen Bulbs", "7B", "5/6")
    assert [(entry["kind"], entry["by"]) for entry in shown["entries"]] == [("added", "Wren")]


def test_names_are_matched_as_people_write_them(batch: Run) -> None:
    """Case, spaces, hyphens and underscores do not matter; ids and names both do."""
    added = add(batch, crop="RANUNCULUS", place="Sprouting Room", stage="Pre-Sprout")
    assert (added["crop"], added["place"], added["stage"]) == (
        "ranunculus", "sprouting-room", "pre_sprout",
    )  # fmt: skip


def test_a_rough_count_is_kept_as_rough(batch: Run) -> None:
    """About 600 is 600, rough."""
    added = add(batch, count="about 600")
    assert (added["count"], added["rough"]) == (600, True)


@pytest.mark.parametrize("number", ["1", "#1", "batch 1"])
def test_a_batch_is_named_by_its_number(batch: Run, number: str) -> None:
    """1, #1 and batch 1 name the same batch, and a time may be given in the past."""
    add(batch)
    moved = batch(
        "move", number, "--to", "tunnel 2", "--stage", "bloom", "--at", "yesterday 16:00", "--json"
    )
    assert (moved["place"], moved["stage"], moved["unit"]) == ("tunnel-2", "bloom", "plants")
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT2[01]:00:00Z", moved["since"])  # 16:00 in New York


def test_stems_are_harvested_into_the_cooler_and_leave(batch: Run) -> None:
    """Harvest, more into the same batch, a sale in bunches: the plants keep their count."""
    add(batch, place="tunnel-2", stage="bloom")
    first = batch("harvest", "1", "--stems", "500", "--to", "walk-in-cooler", "--json")
    assert (first["id"], first["count"], first["parents"]) == (2, 500, [1])
    more = batch("harvest", "1", "--stems", "100", "--into", "2", "--json")
    assert (more["id"], more["count"]) == (2, 600)
    sold = batch("out", "2", "--sold", "20", "--bunches-of", "10", "--to", "market", "--json")
    assert sold["count"] == 400
    assert [row["count"] for row in batch("list", "--json")] == [300, 400]


def test_an_observation_is_recorded_with_its_figures(batch: Run) -> None:
    """Roots, an all-fine look and a hold stand in the batch's sheet."""
    add(batch)
    batch("observe", "1", "--roots", "22", "of", "25", "--at-length", "1", "in", "--json")
    batch("observe", "1", "--all-fine", "--moisture", "moist", "--note", "turned", "--json")
    held = batch("observe", "1", "--held-for", "Saturday wedding", "--stems", "120", "--json")
    assert held["held"] == [{"for": "Saturday wedding", "count": 120}]
    seen = batch("show", "1", "--json")["observations"]
    assert (seen[0]["roots"]["share"], seen[0]["roots"]["at_length_mm"]) == (0.88, 25.4)
    assert (seen[1]["all_fine"], seen[1]["moisture"], seen[1]["note"]) == (True, "moist", "turned")


def test_a_batch_is_split_divided_ended_and_the_end_undone(batch: Run) -> None:
    """Each verb leaves the batch as it says, and an undone end opens it again."""
    add(batch)
    part = batch("split", "1", "--count", "100", "--to", "tunnel-2", "--json")
    assert (part["id"], part["count"], part["place"]) == (2, 100, "tunnel-2")
    assert batch("divide", "2", "--into", "about 240", "--json")["count"] == 240
    assert batch("end", "2", "--why", "composted", "--json")["state"] == "ended"
    assert [row["id"] for row in batch("list", "--json")] == [1]
    assert [row["id"] for row in batch("list", "--all", "--json")] == [1, 2]
    assert batch("undo", "2", "--json")["state"] == "unknown"


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("out", "1", "--sold", "500"), "holds 300 stems, so 500 cannot be taken"),
        (("move", "1", "--to", "attic"), "Walk-in cooler"),
        (("move", "1", "--to", "tunnel-2", "--at", "2100-01-01 10:00"), "in the future"),
        (("move", "1"), "where to"),
        (("move", "9", "--to", "tunnel-2"), "no batch 9: open batches are 1"),
        (("move", "nine", "--to", "tunnel-2"), "no batch number"),
        (("out", "1"), "nothing leaves"),
        (("out", "1", "--sold", "many"), "no count"),
        (("out", "1", "--sold", "5", "--bunches-of", "about 10"), "exact number"),
        (("harvest", "1", "--stems", "5", "--to", "walk-in-cooler"), "no stems are cut"),
        (("observe", "1"), "nothing was seen"),
        (("undo", "1", "--entry", "9"), "no entry 9"),
        (("end", "1", "--why", "x", "--by", " "), "--by NAME"),
        (("show", "2"), "no batch 2"),
    ],
)
def test_what_cannot_be_is_refused_with_nothing_written(
    batch: Run, words: tuple[str, ...], complaint: str
) -> None:
    """A refusal is one clear line, exit code 2, and the ledger as it was."""
    stems(batch)
    before = batch("show", "1", "--json")
    code, out, err = batch(*words)
    assert (code, out) == (2, "")
    assert err.startswith("cormwatch batch: ")
    assert complaint in err
    assert batch("show", "1", "--json") == before


def test_a_harvest_goes_where_stems_are_kept(batch: Run) -> None:
    """Stems put into a sprouting room are refused, and the fitting places named."""
    add(batch, place="tunnel-2", stage="bloom")
    code, _, err = batch("harvest", "1", "--stems", "50", "--to", "sprouting-room")
    assert code == 2
    assert "name one of Walk-in cooler" in err


def test_a_place_that_harms_the_crop_is_told_at_once_and_recorded(batch: Run) -> None:
    """Basil in a cold cooler is recorded, and told on standard error in the farm's unit."""
    code, out, err = batch(
        "add", "--crop", "basil", "--cultivar", "Fen Green", "--count", "50",
        "--place", "walk-in-cooler", "--stage", "cut stems",
    )  # fmt: skip
    assert code == 0
    assert "Batch 1 recorded" in out
    assert "Walk-in cooler is kept at 36 to 40 °F: Basil at Cut stems is harmed here" in err
    assert "50 °F and below" in err


def test_less_left_than_is_held_is_told(batch: Run) -> None:
    """Selling into what is held is recorded, and told."""
    stems(batch)
    batch("observe", "1", "--held-for", "Saturday wedding", "--stems", "250", "--json")
    code, _, err = batch("out", "1", "--sold", "100", "--to", "market")
    assert code == 0
    assert "200 stems left and 250 are held for Saturday wedding" in err


def test_the_list_for_people_has_the_place_first(batch: Run) -> None:
    """Places head the list; each batch has one line in plain words."""
    stems(batch, "about 640")
    add(batch)
    code, out, _ = batch("list")
    lines = out.splitlines()
    assert code == 0
    assert lines[0] == "Walk-in cooler"
    assert re.fullmatch(
        r"    1  Dawn Apricot \(Ranunculus\), Cut stems, about 640 stems, since .{16}: .+",
        lines[1],
    )
    assert lines[2] == "Sprouting room"


def test_an_empty_farm_says_so(batch: Run) -> None:
    """No batch is an empty list, and a sentence for people."""
    assert batch("list", "--json") == []
    assert batch("list")[1] == "No batch is here.\n"


def test_the_sheet_for_people_tells_stays_and_record(batch: Run) -> None:
    """The sheet says where the batch was, and each entry with its writer."""
    add(batch, "--supplier", "Fen Bulbs")
    batch("observe", "1", "--roots", "12 15 20 mm", "--culls", "3", "--json")
    batch("move", "1", "--to", "tunnel-2", "--stage", "bloom", "--json")
    batch("undo", "1", "--json")
    _, out, _ = batch("show", "1")
    for wanted in (
        "Sprouting room: batch 1, Dawn Apricot (Ranunculus)",
        "297 corms, counted", "from Fen Bulbs",
        "added to Sprouting room at Pre-sprout (Wren)", "3 culled",
        "seen: roots of 3 corms 12 to 20 mm, 3 culled", "moved to Tunnel 2 at Bloom",
        "[undone]", "entry #4 (moved) undone",
    ):  # fmt: skip
        assert wanted in out


def test_the_farm_may_be_named_before_the_verb_of_batch(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """--farm stands anywhere after the verb."""
    small_farm(tmp_path)
    assert main(["batch", "--farm", str(tmp_path), "list", "--json"]) == 0
    assert capsys.readouterr().out == "[]\n"


def test_a_broken_farm_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder without a farm's files is one error, exit code 2."""
    assert main(["batch", "list", "--farm", str(tmp_path)]) == 2
    assert "farm.toml" in capsys.readouterr().err


def test_an_undoing_says_what_is_undone(batch: Run) -> None:
    """The entry and what it was are named, also where the batch is gone with it."""
    add(batch)
    batch("move", "1", "--to", "tunnel-2", "--stage", "bloom", "--json")
    _, out, _ = batch("undo", "1")
    assert out.startswith("Entry 2 of batch 1 is undone: moved to Tunnel 2 at Bloom.\n")
    assert "recorded" not in out
    _, out, _ = batch("undo", "1")
    assert out.startswith("Entry 1 of batch 1 is undone: added to Sprouting room at Pre-sprout.\n")
    assert "Batch 1 no longer counts." in out


def test_bunches_are_of_stems(batch: Run) -> None:
    """Plants do not leave in bunches; they may be culled by number."""
    add(batch, place="tunnel-2", stage="bloom")
    code, _, err = batch("out", "1", "--sold", "5", "--bunches-of", "10")
    assert code == 2
    assert "bunches are of stems; batch 1 is counted in plants: harvest first" in err
    assert batch("out", "1", "--culled", "5", "--json")["count"] == 295
