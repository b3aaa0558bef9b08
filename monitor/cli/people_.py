"""``cormwatch people list``, ``password`` and ``token``: who reaches the pages from elsewhere."""

import argparse
import getpass
import sys
from dataclasses import replace

from monitor.access.accounts import Account, accounts_of
from monitor.access.passwords import hashed, refused
from monitor.access.words import say_role
from monitor.cli.common import add_farm, add_json, print_json
from monitor.cli.opening import load_farm
from monitor.clock import SystemClock
from monitor.errors import FarmError
from monitor.farm import Farm, Person, find_person
from monitor.model import Role


def register(parser: argparse.ArgumentParser) -> None:
    """Add what ``people`` takes."""
    what = parser.add_subparsers(dest="what", required=True)
    listing = what.add_parser("list", help="everyone, the role, and whether a password is set")
    add_json(listing)
    listing.set_defaults(run=list_people)
    password = what.add_parser("password", help="set a person's password for the pages")
    password.add_argument("--stdin", action="store_true", help="read it from the first line given")
    password.add_argument("--remove", action="store_true", help="take it away instead")
    password.set_defaults(run=set_password)
    token = what.add_parser("token", help="make a token for a program of a person's, shown once")
    token.add_argument(
        "--role", choices=[each.value for each in Role], default=Role.SEE.value,
        help="what the program may do, never more than the person may (see)",
    )  # fmt: skip
    token.add_argument("--end", action="store_true", help="end all of a person's tokens instead")
    token.set_defaults(run=make_token)
    for each in (password, token):
        each.add_argument("person", metavar="NAME", help="as in people.toml")
    for each in (listing, password, token):
        add_farm(each)


def list_people(args: argparse.Namespace) -> int:
    """Print who may reach the pages, and how; never a hash."""
    farm = load_farm(args)
    accounts = accounts_of(farm.directory).all()
    rows = [_row(each, accounts.get(each.id, Account())) for each in farm.people.values()]
    if args.json:
        print_json(rows)
        return 0
    for row in rows:
        password = "password set" if row["password_set"] else "no password"
        tokens = f", {row['tokens']} token{'s' * (row['tokens'] != 1)}" if row["tokens"] else ""
        addresses = "told by" if row["addresses"] else "told nothing:"
        count = f"{row['addresses']} address{'es' * (row['addresses'] != 1)}"
        print(
            f"{row['name']} ({row['id']}): {row['role']}, {password}{tokens}; {addresses} {count}"
        )
    return 0


def _row(person: Person, account: Account) -> dict[str, object]:
    return {
        "id": person.id,
        "name": person.name,
        "role": person.role.value,
        "password_set": account.password is not None,
        "tokens": len(account.tokens),
        "addresses": len(person.addresses),
    }


def set_password(args: argparse.Namespace) -> int:
    """Set or take away a password; a running monitor sees it at once.

    Raises
    ------
    UnknownNameError
        If there is no such person.
    FarmError
        If the password will not do, or cannot be kept.
    """
    farm = load_farm(args)
    accounts = accounts_of(farm.directory)
    if args.remove and args.person in accounts.all() and args.person not in farm.people:
        accounts.forget(args.person)
        print(f"{args.person}, who is no longer in people.toml, has no password or token now.")
        return 0
    person = find_person(farm, args.person)
    if args.remove:
        accounts.change(person.id, lambda now: replace(now, password=None))
        print(f"{person.name} has no password now, and is signed out everywhere.")
        return 0
    password = asked_password(args.stdin, f"Password for {person.name}")
    keep_password(farm, person, password)
    print(
        f"{person.name} signs in as {person.id}, and may {say_role(person.role)} (role in "
        "people.toml). Whoever was signed in by the old password is signed out."
    )
    return 0


def asked_password(by_line: bool, prompt: str) -> str:
    """Return a password: asked twice and not shown, or the first line of standard input.

    Raises
    ------
    FarmError
        If the two differ.
    """
    if by_line or not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    password = getpass.getpass(f"{prompt}: ")
    if getpass.getpass("Once more: ") != password:
        raise FarmError("the two are not the same: nothing is changed, so try again")
    return password


def keep_password(farm: Farm, person: Person, password: str) -> None:
    """Keep a person's password, if it will do.

    Raises
    ------
    FarmError
        If it is too short or too common, or cannot be kept.
    """
    why_not = refused(password, (farm.name, person.id, person.name))
    if why_not:
        raise FarmError(why_not)
    new = hashed(password)
    accounts_of(farm.directory).change(person.id, lambda now: replace(now, password=new))


def make_token(args: argparse.Namespace) -> int:
    """Make a token and print it once, or end a person's tokens."""
    farm = load_farm(args)
    person = find_person(farm, args.person)
    accounts = accounts_of(farm.directory)
    if args.end:
        accounts.change(person.id, lambda now: replace(now, tokens=()))
        print(f"The tokens of {person.name} have ended.")
        return 0
    print(accounts.new_token(person.id, Role(args.role), SystemClock().now_ms()))
    print(
        "Shown this once. A program sends it as the header  Authorization: Bearer TOKEN",
        file=sys.stderr,
    )
    return 0
