"""People: is there anybody to tell, and how?"""

from collections.abc import Iterator
from importlib.util import find_spec

from monitor.farm.blame import show
from monitor.farm.forms import NoticesForm
from monitor.farm.naming import nearest
from monitor.farm.problem import Problem
from monitor.farm.sheets import FARM, PEOPLE, Sheets

_HOW = 'add addresses = ["env:NAME"] to a [[person]]; try it with cormwatch alarm drill'


def problems(sheets: Sheets) -> Iterator[Problem]:
    """Yield what is wrong or doubtful with people and the notice rules."""
    if PEOPLE in sheets.raw:
        yield from _addresses(sheets)
        yield from _pictures(sheets)
        yield from _duty(sheets)
    if sheets.notices is not None:
        yield from _rules(sheets, sheets.notices)


def _addresses(sheets: Sheets) -> Iterator[Problem]:
    wrong = any(each.file == PEOPLE for each in sheets.problems)
    if not wrong and not any(entry.form.addresses for entry in sheets.people):
        yield Problem(
            "warning", PEOPLE, "person", "", "nobody has an address, so no phone is woken", _HOW,
        )  # fmt: skip
        return
    for entry in sheets.people:
        if not entry.form.addresses:
            yield Problem(
                "warning", PEOPLE, f"{entry.where}.addresses", "", f"{entry.form.name} has no "
                "address and is told nothing", _HOW,
            )  # fmt: skip


def _pictures(sheets: Sheets) -> Iterator[Problem]:
    for entry in sheets.people:
        count, key = len(entry.form.addresses), f"{entry.where}.pictures"
        for number in entry.form.pictures:
            if number > count:
                yield Problem(
                    "error", PEOPLE, key, str(number), f"{entry.form.name} has {count} addresses",
                    "count them from 1, as they stand in addresses",
                )  # fmt: skip
        if entry.form.pictures and find_spec("PIL") is None:
            yield Problem(
                "warning", PEOPLE, key, "", "what draws pictures is not installed: messages go "
                "without", "pip install 'cormwatch[pictures]', or leave the line out",
            )  # fmt: skip


def _duty(sheets: Sheets) -> Iterator[Problem]:
    known = sheets.written.get("person", set())
    mute = {entry.form.id for entry in sheets.people if not entry.form.addresses}
    for entry in sheets.duty:
        name, key = entry.form.person, f"{entry.where}.person"
        if name not in known:
            near = nearest(name, sorted(known))
            yield Problem(
                "error", PEOPLE, key, show(name), "there is no such person",
                f"did you mean {near}?" if near else "name the id of a [[person]]",
            )  # fmt: skip
        elif name in mute:
            yield Problem(
                "warning", PEOPLE, key, "", f"{name} is on duty, has no address, and cannot "
                "be rung: the next person is", _HOW,
            )  # fmt: skip


def _rules(sheets: Sheets, rules: NoticesForm) -> Iterator[Problem]:
    if (rules.quiet_from is None) != (rules.quiet_until is None):
        lone = "quiet_until" if rules.quiet_until is None else "quiet_from"
        yield Problem(
            "error", FARM, f"notices.{lone}", "", "quiet hours need a beginning and an end",
            f'add {lone} = "…", or take the other away',
        )  # fmt: skip
    known = sheets.written.get("person", set())
    for priority, ids in rules.send_to.items():
        key = f"notices.send_to.{priority.value}"
        if not ids:
            yield Problem(
                "warning", FARM, key, "", f"nobody is told of {priority.value} alarms",
                "name someone, or leave the line out and everyone is told",
            )  # fmt: skip
        for name in ids:
            if name not in known and PEOPLE in sheets.raw:
                near = nearest(name, sorted(known))
                yield Problem(
                    "error", FARM, key, show(name), "there is no such person",
                    f"did you mean {near}?" if near else f"name one of the ids in {PEOPLE}",
                )  # fmt: skip
