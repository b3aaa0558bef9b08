"""Loading and checking a farm's folder."""

import hashlib
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from monitor.clock import SystemClock
from monitor.errors import FarmError
from monitor.farm import building
from monitor.farm.checks import all_problems, site
from monitor.farm.declared import Farm
from monitor.farm.forms import KindForm, NoticesForm, PagesForm, WatcherForm
from monitor.farm.masking import mask_problems, mask_texts, written_secrets
from monitor.farm.problem import Problem, only_errors
from monitor.farm.secrets_of import Secrets, resolve_all
from monitor.farm.sheets import FARM, FILES, Sheets, read
from monitor.model import Batch
from monitor.units import TemperatureUnit


@dataclass(frozen=True)
class _Studied:
    sheets: Sheets
    secrets: Secrets
    problems: list[Problem]


def _study(
    directory: Path,
    environ: Mapping[str, str],
    now_ms: int | None,
    *,
    secrets_needed: bool = True,
    texts: Mapping[str, str] | None = None,
) -> _Studied:
    sheets = read(directory, texts)
    secrets = resolve_all(sheets, directory, environ, needed=secrets_needed)
    now = SystemClock().now_ms() if now_ms is None else now_ms
    found = [*sheets.problems, *secrets.problems, *all_problems(sheets, directory, now)]
    order = {file: index for index, file in enumerate(FILES)}
    found.sort(key=lambda each: (each.severity != "error", order.get(each.file, len(order))))
    return _Studied(sheets, secrets, mask_problems(found, written_secrets(sheets.raw)))


def check(
    directory: Path, environ: Mapping[str, str] = os.environ, now_ms: int | None = None
) -> list[Problem]:
    """Return every mistake and doubtful thing in a farm's files, errors first.

    Parameters
    ----------
    directory : Path
        The farm's folder.
    environ : mapping
        The environment that ``env:NAME`` secrets are taken from.
    now_ms : int, optional
        Now, to tell a calibration of the future; the system's clock by default. [ms]
    """
    return _study(directory, environ, now_ms).problems


def load(
    directory: Path,
    environ: Mapping[str, str] = os.environ,
    now_ms: int | None = None,
    *,
    secrets_needed: bool = True,
    texts: Mapping[str, str] | None = None,
) -> Farm:
    """Return the farm that a folder declares.

    Parameters
    ----------
    directory : Path
        The farm's folder.
    environ : mapping
        The environment that ``env:NAME`` secrets are taken from.
    now_ms : int, optional
        Now; the system's clock by default. [ms]
    secrets_needed : bool
        Whether a secret that leads nowhere is a mistake. Where it is not, a farm without it
        is returned: no password, or no such address.
    texts : mapping, optional
        Texts that stand in for the files of these names: how the farm would be.

    Raises
    ------
    FarmError
        If anything in its files is wrong: the message names every mistake.
    """
    studied = _study(directory, environ, now_ms, secrets_needed=secrets_needed, texts=texts)
    errors = only_errors(studied.problems)
    if errors:
        raise FarmError(_message(errors, directory))
    return _built(studied.sheets, studied.secrets, directory)


def _message(errors: list[Problem], directory: Path) -> str:
    count = "1 mistake" if len(errors) == 1 else f"{len(errors)} mistakes"
    lines = "\n  ".join(str(each) for each in errors)
    return f"{count} in the files of {directory}:\n  {lines}"


def _built(sheets: Sheets, secrets: Secrets, directory: Path) -> Farm:
    form, broker = sheets.farm, sheets.broker
    zone = site.zone_of(form)
    if form is None or broker is None or zone is None:
        raise FarmError(f"{FARM}: [farm] or [broker] cannot be used; run cormwatch check")
    kinds, plain = sheets.kinds, KindForm()
    return Farm(
        name=form.name,
        zone=zone,
        latitude=form.latitude,
        longitude=form.longitude,
        units=TemperatureUnit(form.units),
        broker=building.broker(broker, secrets.password, directory),
        web=building.web(sheets.pages or PagesForm(), directory),
        places={
            each.form.id: building.place(each.form, kinds.get(each.form.kind, plain))
            for each in sheets.places
        },
        sensors={each.form.id: building.sensor(each.form, zone) for each in sheets.sensors},
        crops={each.form.id: building.crop(each.form) for each in sheets.crops},
        people={
            each.form.id: building.person(each.form, secrets.addresses[each.form.id], form.language)
            for each in sheets.people
        },
        notices=building.notices(sheets.notices or NoticesForm()),
        directory=directory,
        duty=tuple(building.duty(each.form) for each in sheets.duty),
        language=form.language,
        mirror=None if sheets.mirror is None else building.mirror(sheets.mirror, secrets.token),
        backup=None if sheets.backup is None else building.backup(sheets.backup, directory),
        thin_after_months=sheets.history.thin_after_months if sheets.history else None,
        watcher=building.watcher(sheets.watcher or WatcherForm(), secrets.watcher),
        texts=mask_texts(sheets.texts, sheets.raw),
        digest=_digest(sheets.texts),
    )


def _digest(texts: Mapping[str, str]) -> str:
    whole = hashlib.sha256()
    for file in sorted(texts):
        content = texts[file].encode()
        whole.update(f"{file} {len(content)}\n".encode())
        whole.update(content)
    return whole.hexdigest()


def missing_places(farm: Farm, batches: Iterable[Batch]) -> list[Problem]:
    """Return a problem for each place that a batch stands in and the farm does not have.

    A changed configuration that takes away such a place is refused.
    """
    standing: dict[str, list[int]] = {}
    for batch in batches:
        if batch.stay is not None and batch.stay.place not in farm.places:
            standing.setdefault(batch.stay.place, []).append(batch.id)
    return [
        Problem(
            "error", FARM, f"place[{place}]", "",
            f"the place is gone, and {_batches(numbers)} there by the records",
            "put it back, or move what is there first: cormwatch batch move",
        )
        for place, numbers in sorted(standing.items())
    ]  # fmt: skip


def _batches(numbers: list[int]) -> str:
    listed = ", ".join(str(number) for number in sorted(numbers))
    return f"batch {listed} is" if len(numbers) == 1 else f"batches {listed} are"
