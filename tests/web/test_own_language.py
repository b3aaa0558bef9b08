"""Each signed-in person chooses their own language, and nothing else by it."""

from collections.abc import Mapping

import pytest

from monitor.access.accounts import accounts_of
from monitor.farm import load
from monitor.model import Role
from monitor.web.app import create_app
from tests.web.desk import SmallDesk
from tests.web.everyone import everyone
from tests.web.signing import AWAY, HERE, Browser

PATH = "/account/language"


def _spoken(desk: SmallDesk) -> Mapping[str, str | None]:
    return {each.id: each.language for each in load(desk.folder, {}).people.values()}


@pytest.mark.parametrize("role", list(Role))
def test_whoever_is_signed_in_chooses_for_themselves(own_desk: SmallDesk, role: Role) -> None:
    """With any role, at once, by their name; the others' entries and the other files stay."""
    phone = everyone(own_desk).by_role[role]
    before = {name: (own_desk.folder / name).read_text("utf-8") for name in own_desk.farm().texts}
    assert '<html lang="en"' in phone.get("/account").text
    answer = phone.post(PATH, "/account", language="es", person="help", role="change", name="x")
    assert (answer.status_code, answer.headers["location"]) == (303, "/account")
    assert _spoken(own_desk) == {each.value: "es" if each is role else None for each in Role}
    page = phone.get("/account").text
    assert '<html lang="es"' in page
    assert '<option value="es" selected>Español</option>' in page
    kept = own_desk.ledger.configurations()[-1]
    assert f"The one who may {role}" in kept.by
    assert phone.post(PATH, "/account", language="").status_code == 303
    after = {name: (own_desk.folder / name).read_text("utf-8") for name in before}
    assert after == before


@pytest.mark.parametrize("language", ["xx", "ES", "en; drop", "e" * 999])
def test_a_language_that_is_not_spoken_is_refused(own_desk: SmallDesk, language: str) -> None:
    """Nothing is written."""
    phone = everyone(own_desk).by_role[Role.SEE]
    assert phone.post(PATH, "/account", language=language).status_code in {403, 422}
    assert set(_spoken(own_desk).values()) == {None}


def test_nobody_chooses_for_another(own_desk: SmallDesk) -> None:
    """Without the form's key, from another site, without a session, by a program's token."""
    people = everyone(own_desk)
    phone = people.by_role[Role.HELP]
    own = {"form_key": phone.key("/account"), "language": "es"}
    token = accounts_of(own_desk.folder).new_token("help", Role.HELP, 0)
    program, here = Browser(create_app(own_desk), AWAY), Browser(create_app(own_desk), HERE)
    told = [
        phone.ask("POST", PATH, data={"language": "es"}, headers=phone.own_page()),
        phone.ask("POST", PATH, data=own, headers={"origin": "https://elsewhere.example"}),
        people.by_role[None].ask("POST", PATH, data=own, headers=phone.own_page()),
        program.ask("POST", PATH, data=own, headers={"authorization": f"Bearer {token}"}),
        here.post(PATH, "/", language="es"),
    ]
    assert [each.status_code for each in told] == [403, 400, 401, 403, 403]
    assert set(_spoken(own_desk).values()) == {None}
