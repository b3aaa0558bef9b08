"""``cormwatch init``: the first password, and pages that phones on the farm's network reach."""

import argparse
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from monitor.access.passwords import refused
from monitor.access.private_file import write_private
from monitor.cli.certificate_ import address_at, far_names, say_trust
from monitor.cli.people_ import keep_password
from monitor.clock import SystemClock
from monitor.errors import FarmError
from monitor.farm import load

Ask = Callable[[str], str]
_WHO: Final = "robin"  # the starter's first person
_OPENED: Final = (
    ('listen = "127.0.0.1:8484"', 'listen = "0.0.0.0:8484"'),
    ("# certificate = ", "certificate = "),
    ("# key = ", "key = "),
)


@dataclass(frozen=True, slots=True)
class Reach:
    """Who reaches the pages of a new farm: nobody from elsewhere, unless said."""

    password: str = ""
    phones: bool = False

    def __repr__(self) -> str:
        return f"Reach(phones={self.phones})"


def add_reach(parser: argparse.ArgumentParser) -> None:
    """Add what ``init`` takes of it."""
    parser.add_argument(
        "--password-stdin", action="store_true",
        help="read the first person's password for the pages from the first line given",
    )  # fmt: skip
    parser.add_argument(
        "--phones", action="store_true",
        help="let phones on the farm's network reach the pages, by a certificate of its own",
    )  # fmt: skip


def wanted(args: argparse.Namespace, ask: Ask | None, ask_hidden: Ask) -> Reach:
    """Return who is to reach the pages; ``ask`` is None where nothing is asked.

    Raises
    ------
    FarmError
        If the password will not do, or phones are to be let in without one.
    """
    password, phones = "", args.phones
    if args.password_stdin:
        password = sys.stdin.readline().rstrip("\r\n")
        if not password:
            raise FarmError("no password came on standard input")
    elif ask is not None:
        password = ask_hidden("Password for Robin on the pages, from a phone [later]: ")
        if password and ask_hidden("Once more: ") != password:
            raise FarmError("the two passwords are not the same: start again")
    if password and (why_not := refused(password, (args.name or "", _WHO))):
        raise FarmError(why_not)
    if password and ask is not None and not phones:
        answer = ask("Shall phones on the farm's network reach the pages? y or n [n]: ")
        phones = answer.strip().lower().startswith("y")
    if phones and not password:
        raise FarmError("phones are let in once somebody has a password: add --password-stdin")
    return Reach(password, phones)


def settle(directory: Path, reach: Reach) -> None:
    """Keep the password, and open the pages to phones where that is wanted."""
    if not reach.password:
        return
    farm = load(directory, {}, secrets_needed=False)
    keep_password(farm, farm.people[_WHO], reach.password)
    if not reach.phones:
        return
    from monitor.access import certificate  # noqa: PLC0415 - large, and seldom needed

    now = datetime.fromtimestamp(SystemClock().now_ms() / 1000, UTC)
    made = certificate.make(directory, certificate.own_names(), now)
    text = (directory / "farm.toml").read_text(encoding="utf-8")
    for old, new in (*_OPENED, *_reached(far_names(made), farm.web.port)):
        text = text.replace(old, new, 1)
    write_private(directory / "farm.toml", text)
    print(f"The pages are reached as {', '.join(made.names)}. {say_trust(made, farm.web.port)}")


def _reached(names: Sequence[str], port: int) -> list[tuple[str, str]]:
    """Return what makes links in messages open: the address that phones are told, and the rest."""
    if not names:
        return []
    *others, last = names
    found = [('# base_url = "https://barn.local:8484"', f'base_url = "{address_at(last, port)}"')]
    if others:
        listed = ", ".join(f'"{each}"' for each in others)
        found.append(('# hosts = ["barn.local"]', f"hosts = [{listed}]"))
    return found
