"""The three files read into forms, entry by entry, so that one mistake hides no other."""

import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final, Generic, TypeVar

from pydantic import BaseModel, ValidationError

from monitor.farm.blame import blame, label, unknown_key
from monitor.farm.former import outdated, renewed
from monitor.farm.forms import (
    BackupForm,
    BrokerForm,
    CropForm,
    DutyForm,
    FarmForm,
    HistoryForm,
    KindForm,
    MirrorForm,
    NoticesForm,
    PagesForm,
    PersonForm,
    PlaceForm,
    SensorForm,
    WatcherForm,
)
from monitor.farm.naming import nearest
from monitor.farm.problem import Problem
from monitor.model import PlaceKind

FARM: Final = "farm.toml"
CROPS: Final = "crops.toml"
PEOPLE: Final = "people.toml"
FILES: Final = (FARM, CROPS, PEOPLE)
_LARGEST: Final = 1_000_000  # bytes; a farm's files are some tens of kilobytes
_TABLES: Final = {
    FARM: (
        "farm",
        "broker",
        "pages",
        "notices",
        "watcher",
        "mirror",
        "backup",
        "history",
        "place",
        "sensor",
    ),
    CROPS: ("kind", "crop"),
    PEOPLE: ("person", "duty"),
}

F = TypeVar("F", bound=BaseModel)


@dataclass(frozen=True)
class Entry(Generic[F]):
    """One entry of a list of tables, and its path in the file."""

    where: str
    form: F


@dataclass
class Sheets:
    """What could be read, and the problems met; a form that is wrong is left out.

    ``written`` holds the ids that the lists name, of wrong entries too.
    """

    texts: dict[str, str] = field(default_factory=dict)
    raw: dict[str, dict[str, Any]] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    farm: FarmForm | None = None
    broker: BrokerForm | None = None
    pages: PagesForm | None = None
    notices: NoticesForm | None = None
    watcher: WatcherForm | None = None
    mirror: MirrorForm | None = None
    backup: BackupForm | None = None
    history: HistoryForm | None = None
    kinds: dict[PlaceKind, KindForm] = field(default_factory=dict)
    places: list[Entry[PlaceForm]] = field(default_factory=list)
    sensors: list[Entry[SensorForm]] = field(default_factory=list)
    crops: list[Entry[CropForm]] = field(default_factory=list)
    people: list[Entry[PersonForm]] = field(default_factory=list)
    duty: list[Entry[DutyForm]] = field(default_factory=list)
    written: dict[str, set[str]] = field(default_factory=dict)


def read(directory: Path, texts: Mapping[str, str] | None = None) -> Sheets:
    """Read a farm's folder; ``texts`` stand in for the files that they name."""
    sheets = Sheets()
    for file in FILES:
        if texts is not None and file in texts:
            _take_text(sheets, directory / file, lambda path: texts[path.name].encode())
        elif file != CROPS or (directory / file).exists() or not _is_second(sheets):
            _take_text(sheets, directory / file, _content)
    return _filled(sheets)


def _is_second(sheets: Sheets) -> bool:
    """Return whether this is the folder of a second watcher: it grows nothing."""
    watcher = sheets.raw.get(FARM, {}).get("watcher")
    return isinstance(watcher, Mapping) and "second" in watcher


def from_texts(texts: Mapping[str, str]) -> Sheets:
    """Read a farm's files from texts that were kept; one that is no TOML is left out."""
    sheets = Sheets()
    for file in FILES:
        try:
            sheets.raw[file] = renewed(tomllib.loads(texts.get(file, "")))
        except (ValueError, RecursionError):
            continue
        sheets.texts[file] = texts.get(file, "")
    return _filled(sheets)


def _filled(sheets: Sheets) -> Sheets:
    if FARM in sheets.raw:
        sheets.farm = _table(sheets, FARM, "farm", FarmForm)
        sheets.broker = _table(sheets, FARM, "broker", BrokerForm)
        sheets.pages = _table(sheets, FARM, "pages", PagesForm)
        sheets.notices = _table(sheets, FARM, "notices", NoticesForm)
        sheets.watcher = _table(sheets, FARM, "watcher", WatcherForm)
        if "mirror" in sheets.raw[FARM]:
            sheets.mirror = _table(sheets, FARM, "mirror", MirrorForm)
        if "backup" in sheets.raw[FARM]:
            sheets.backup = _table(sheets, FARM, "backup", BackupForm)
        sheets.history = _table(sheets, FARM, "history", HistoryForm)
        sheets.places = list(_entries(sheets, FARM, "place", PlaceForm))
        sheets.sensors = list(_entries(sheets, FARM, "sensor", SensorForm))
    if CROPS in sheets.raw:
        sheets.kinds = dict(_kinds(sheets))
        sheets.crops = list(_entries(sheets, CROPS, "crop", CropForm))
    if PEOPLE in sheets.raw:
        sheets.people = list(_entries(sheets, PEOPLE, "person", PersonForm))
        sheets.duty = list(_entries(sheets, PEOPLE, "duty", DutyForm))
    return sheets


def _content(path: Path) -> bytes:
    if path.exists() and not path.is_file():
        raise ValueError("it is no regular file")
    return path.read_bytes()


def _take_text(sheets: Sheets, path: Path, content_of: Callable[[Path], bytes]) -> None:
    file = path.name
    try:
        content = content_of(path)
        if len(content) > _LARGEST:
            raise ValueError(f"the file has more than {_LARGEST} bytes")  # noqa: TRY301 - told below
        text = content.decode("utf-8")
        read_in = tomllib.loads(text)
        sheets.problems.extend(outdated(file, read_in))
        sheets.raw[file] = renewed(read_in)
        sheets.texts[file] = text
    except FileNotFoundError:
        sheets.problems.append(Problem(
            "error", file, "", "", f"there is no such file in {path.parent}",
            "name the farm's folder with --farm, or write a starter with cormwatch init DIR",
        ))  # fmt: skip
    except OSError as failure:
        sheets.problems.append(Problem(
            "error", file, "", "", f"the file cannot be read ({failure.strerror})",
            "mend its owner and rights",
        ))  # fmt: skip
    except UnicodeDecodeError as failure:
        line = failure.object[: failure.start].count(b"\n") + 1
        sheets.problems.append(Problem(
            "error", file, "", "", f"line {line} holds a byte that is no UTF-8",
            "save the file as UTF-8",
        ))  # fmt: skip
    except (ValueError, RecursionError) as failure:
        sheets.problems.append(Problem(
            "error", file, "", "", f"the file is no TOML: {failure}", "mend that line",
        ))  # fmt: skip
    if file in sheets.raw:
        for key in sheets.raw[file].keys() - set(_TABLES[file]):
            sheets.problems.append(unknown_key(file, key, key, _TABLES[file]))


def _form(sheets: Sheets, file: str, where: str, form: type[F], raw: object) -> F | None:
    try:
        return form.model_validate(raw)
    except ValidationError as failure:
        sheets.problems.extend(blame(failure, form, file, where, raw))
    return None


def _table(sheets: Sheets, file: str, key: str, form: type[F]) -> F | None:
    if key == "farm" and key not in sheets.raw[file]:
        sheets.problems.append(Problem(
            "error", file, key, "", "this table is missing",
            "add [farm] with name, time_zone, latitude and longitude",
        ))  # fmt: skip
        return None
    return _form(sheets, file, key, form, sheets.raw[file].get(key, {}))


def _entries(sheets: Sheets, file: str, key: str, form: type[F]) -> Iterator[Entry[F]]:
    raw = sheets.raw[file].get(key, [])
    if not isinstance(raw, list):
        sheets.problems.append(Problem(
            "error", file, key, "", "this is one table where a list of them is wanted",
            f"write [[{key}]] with two brackets",
        ))  # fmt: skip
        return
    named = sheets.written.setdefault(key, set())
    for index, entry in enumerate(raw):
        where = f"{key}[{label(entry, index)}]"
        made = _form(sheets, file, where, form, entry)
        name = entry.get("id") if isinstance(entry, Mapping) else None
        if isinstance(name, str) and name in named:
            sheets.problems.append(Problem(
                "error", file, f"{where}.id", "", f"two entries have the id {name}",
                "give one of them another id",
            ))  # fmt: skip
        elif made is not None:
            yield Entry(where, made)
        if isinstance(name, str):
            named.add(name)


def _kinds(sheets: Sheets) -> Iterator[tuple[PlaceKind, KindForm]]:
    raw = sheets.raw[CROPS].get("kind", {})
    if not isinstance(raw, Mapping):
        raw = {}
    for name, table in raw.items():
        form = _form(sheets, CROPS, f"kind.{name}", KindForm, table)
        known = [each.value for each in PlaceKind]
        if name not in known:
            near = nearest(name, known)
            sheets.problems.append(Problem(
                "error", CROPS, f"kind.{name}", "", "there is no such kind of place",
                f"did you mean {near}?" if near else f"choose {' or '.join(known)}",
            ))  # fmt: skip
        elif form is not None:
            yield PlaceKind(name), form
