"""Somebody signed in with each role, and nobody."""

from dataclasses import dataclass

from monitor.access.accounts import Account, accounts_of
from monitor.access.passwords import hashed
from monitor.model import Role
from monitor.web.app import create_app
from tests.web.desk import SmallDesk
from tests.web.signing import AWAY, PASSWORD, Browser


@dataclass
class People:
    """A browser for each role, and one of nobody."""

    by_role: dict[Role | None, Browser]


def everyone(desk: SmallDesk) -> People:
    """Return someone signed in with each role, away from the monitor's computer."""
    lines = [
        f'[[person]]\nid = "{role}"\nname = "The one who may {role}"\nrole = "{role}"\n'
        for role in Role
    ]
    (desk.folder / "people.toml").write_text("\n".join(lines), encoding="utf-8")
    desk.judge()
    stored = hashed(PASSWORD)
    for role in Role:
        accounts_of(desk.folder).keep(role.value, Account(stored))
    app = create_app(desk)
    found: dict[Role | None, Browser] = {None: Browser(app, AWAY)}
    for role in Role:
        found[role] = Browser(app, AWAY)
        found[role].sign_in(role.value, PASSWORD)
    return People(found)
