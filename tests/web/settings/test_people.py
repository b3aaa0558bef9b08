"""Settings of people, duty and hours by forms without a script."""

from dataclasses import replace
from datetime import date, time
from html import unescape

import pytest

from monitor.access.accounts import Account, accounts_of
from monitor.farm import load
from monitor.model import NoticeKind, NoticeStatus, Role
from tests.web.desk import SmallDesk
from tests.web.settings.forms import filled
from tests.web.settings.test_places import sure
from tests.web.visiting import Visitor

NEW = "/settings/new-person"
ADDRESS = "json://127.0.0.1:9/very-secret"


def test_an_address_is_kept_in_a_file_and_shown_nowhere(
    own_desk: SmallDesk, own_visitor: Visitor
) -> None:
    """Neither a page nor the farm's files nor the kept configuration holds it."""
    fields = filled(own_visitor, NEW, NEW, by="Wren", name="Ida", role="see", address=ADDRESS)
    assert own_visitor.post(NEW, data=fields).headers["location"] == "/settings/people/ida?done=1"
    person = load(own_desk.folder).people["ida"]
    assert person.role is Role.SEE
    assert [each.get_secret_value() for each in person.addresses] == [ADDRESS]
    (kept,) = (own_desk.folder / "secrets").iterdir()
    assert kept.stat().st_mode & 0o777 == 0o600
    for path in ("/settings", "/settings/people/ida", "/alarms"):
        assert "very-secret" not in own_visitor.get(path).text
    assert "very-secret" not in (own_desk.folder / "people.toml").read_text(encoding="utf-8")
    assert "very-secret" not in str(own_desk.ledger.configurations()[-1].texts)


def test_a_wrong_address_is_refused_and_not_repeated(
    own_desk: SmallDesk, own_visitor: Visitor
) -> None:
    """What is no address is not kept, and the page does not show it again."""
    path = "/settings/people/wren"
    fields = filled(own_visitor, path, path, "new-address", by="Wren", address="very-secret")
    answer = own_visitor.post(path, data=fields)
    assert answer.status_code == 422
    assert "begins with its service" in answer.text
    assert "very-secret" not in answer.text
    assert not (own_desk.folder / "secrets").exists()


def test_the_last_address_goes_after_a_second_word(
    own_desk: SmallDesk, own_visitor: Visitor
) -> None:
    """First it is said that no phone would ring any more."""
    path = "/settings/people/wren"
    fields = filled(own_visitor, path, path, "new-address", by="Wren", address=ADDRESS)
    assert own_visitor.post(path, data=fields).status_code == 303
    old = filled(own_visitor, path, path, "old-address", by="Wren")
    asked = own_visitor.post(path, data=old)
    assert "no phone would ring any more" in asked.text
    assert own_visitor.post(path, data=old | {"sure": sure(asked.text)}).status_code == 303
    assert load(own_desk.folder).people["wren"].addresses == ()
    assert not list((own_desk.folder / "secrets").iterdir())


def test_who_leaves_leaves_no_address(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """A secret's file goes with its person; one that somebody else's address names stays."""
    path = "/settings/people/robin"
    for address in (ADDRESS, f"{ADDRESS}-2"):
        fields = filled(own_visitor, path, path, "new-address", by="Wren", address=address)
        assert own_visitor.post(path, data=fields).status_code == 303
        own_desk.judge()
    shared, _ = sorted((own_desk.folder / "secrets").iterdir())
    file = own_desk.folder / "people.toml"
    text = file.read_text(encoding="utf-8")
    wren = f'name = "Wren"\naddresses = ["file:secrets/{shared.name}"]'
    file.write_text(text.replace('name = "Wren"', wren, 1), encoding="utf-8")
    own_desk.judge()
    out = filled(own_visitor, path, path, "out", by="Wren") | {"why": ["moved away"]}
    assert own_visitor.post(path, data=out).status_code == 303
    assert list((own_desk.folder / "secrets").iterdir()) == [shared]


def test_a_person_is_renamed_and_leaves(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """Leaving needs a reason."""
    path = "/settings/people/robin"
    fields = filled(
        own_visitor, path, path, "facts", by="Wren", name="Robin B", role="change", language="es"
    )
    assert own_visitor.post(path, data=fields).status_code == 303
    robin = load(own_desk.folder).people["robin"]
    assert (robin.name, robin.role, robin.language) == ("Robin B", Role.CHANGE, "es")
    out = filled(own_visitor, path, path, "out", by="Wren")
    assert "Say why" in own_visitor.post(path, data=out).text
    assert own_visitor.post(path, data=out | {"why": "moved away"}).status_code == 303
    assert "robin" not in load(own_desk.folder).people
    assert own_visitor.get(path).status_code == 404


def test_who_leaves_leaves_no_key(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """Password and token go with the person: the next of that name begins anew."""
    accounts = accounts_of(own_desk.folder)
    accounts.keep("robin", Account(password="$argon2id$old"))  # noqa: S106 - no real one
    token = accounts.new_token("robin", Role.CHANGE, own_desk.now_ms())
    path = "/settings/people/robin"
    out = filled(own_visitor, path, path, "out", by="Wren") | {"why": "moved away"}
    assert own_visitor.post(path, data=out).status_code == 303
    assert accounts.by_token(token) is None
    accounts.keep("robin", Account(password="$argon2id$old"))  # noqa: S106 - left by hand
    fields = filled(own_visitor, NEW, NEW, by="Wren", why="back", name="Robin", role="help")
    assert own_visitor.post(NEW, data=fields).status_code == 303
    assert "robin" in load(own_desk.folder).people
    assert accounts.of("robin") == Account()


def test_turns_of_duty_by_days_and_dates(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """Ticked days and typed dates become turns; they can be changed again and emptied."""
    path = "/settings/duty"
    fields = filled(
        own_visitor, path, path, by="Wren", why="winter", person__0="wren", days__0=["sat", "sun"],
        person__1="robin", first__1="2026-12-01", last__1="2026-12-24",
    )  # fmt: skip
    assert own_visitor.post(path, data=fields).status_code == 303
    one, other = load(own_desk.folder).duty
    assert (one.person, one.weekdays) == ("wren", (5, 6))
    assert (other.first, other.last) == (date(2026, 12, 1), date(2026, 12, 24))
    kept = filled(own_visitor, path, path, by="Wren", why="spring", person__1="")
    assert kept["days.0"] == ["sat", "sun"]
    assert own_visitor.post(path, data=kept).status_code == 303
    assert [each.person for each in load(own_desk.folder).duty] == ["wren"]
    wrong = filled(
        own_visitor, path, path, by="Wren", why="x", first__0="2026-12-24", last__0="2026-12-01"
    )
    assert "before it begins" in own_visitor.post(path, data=wrong).text


def test_a_year_of_turns_is_saved_whole(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """However many turns there are, the form shows them all and keeps them all."""
    turn = '[[duty]]\nperson = "wren"\nfirst = 2026-{0:02d}-{1:02d}\nlast = 2026-{0:02d}-{1:02d}\n'
    turns = "\n".join(turn.format(month, day) for month in range(1, 13) for day in range(1, 11))
    file = own_desk.folder / "people.toml"
    file.write_text(f"{file.read_text(encoding='utf-8')}\n{turns}", encoding="utf-8")
    own_desk.judge()
    path = "/settings/duty"
    fields = filled(own_visitor, path, path, by="Wren", why="summer", person__119="robin")
    assert own_visitor.post(path, data=fields).status_code == 303
    kept = load(own_desk.folder).duty
    assert len(kept) == 120
    assert [each.person for each in kept].count("robin") == 1
    assert kept[118].first == date(2026, 12, 9)


def test_hours_are_changed(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """Quiet hours come in pairs; a time that is none is said beside its field."""
    path = "/settings/times"
    fields = filled(
        own_visitor, path, path, by="Wren", why="lambing", quiet_from="21:30", quiet_until="06:00",
        summary="off", remind_after="40 min",
    )  # fmt: skip
    assert own_visitor.post(path, data=fields).status_code == 303
    rules = load(own_desk.folder).notices
    assert (rules.quiet_from, rules.quiet_until) == (time(21, 30), time(6))
    assert (rules.digest, rules.remind_after_s) == ("off", 2400.0)
    for typed, said in (
        ({"quiet_until": ""}, "a beginning and an end"), ({"morning_at": "soon"}, "no time of day"),
        ({"remind_after": ""}, "say how long"), ({}, "nothing is different"),
    ):  # fmt: skip
        wrong = filled(own_visitor, path, path, by="Wren", why="x", **typed)
        answer = own_visitor.post(path, data=wrong)
        assert said.casefold() in unescape(answer.text).casefold()


def test_a_test_goes_to_every_address_and_its_result_is_shown(
    own_desk: SmallDesk, own_visitor: Visitor
) -> None:
    """Without an address it says so; with one the outbox holds a marked test."""
    path = "/settings/test"
    fields = filled(own_visitor, "/settings", path, "test", by="Wren")
    assert "nobody has an address" in own_visitor.post(path, data=fields).text.casefold()
    person = "/settings/people/wren"
    new = filled(own_visitor, person, person, "new-address", by="Wren", address=ADDRESS)
    assert own_visitor.post(person, data=new).status_code == 303
    assert own_visitor.post(path, data=fields).status_code == 303
    (notice,) = [e for e in own_desk.ledger.notices() if e.kind is NoticeKind.DRILL]
    assert (notice.person, notice.status) == ("wren", NoticeStatus.WAITING)
    assert "Wren, address 1: on its way" in own_visitor.get("/settings").text


def test_the_settings_say_how_the_copies_stand(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """What the monitor tells of them, where there are any."""
    assert 'id="copies"' not in own_visitor.get("/settings").text
    told = ("The newest copy is of 02:30: <x>",)
    own_desk.state_of_health = replace(own_desk.state_of_health, copies=told)
    page = own_visitor.get("/settings").text
    assert "The newest copy is of 02:30: &lt;x&gt;" in page[page.index('id="copies"') :]


@pytest.mark.parametrize(
    ("typed", "said"),
    [({"longest": "12 d"}, ""), ({"longest": "2 d"}, "shorter than the least"), ({}, "nothing is")],
)
def test_a_stage_has_other_times(
    own_desk: SmallDesk, own_visitor: Visitor, typed: dict[str, str], said: str
) -> None:
    """Least and longest time are in order, and say who set them and why."""
    path = "/settings/crops/ranunculus/pre_sprout"
    fields = filled(own_visitor, path, path, "times", by="Wren", why="cold room", **typed)
    answer = own_visitor.post(path, data=fields)
    assert said.casefold() in answer.text.casefold()
    stage = load(own_desk.folder).crops["ranunculus"].stages["pre_sprout"]
    assert stage.longest_s == (12 if not said else 14) * 86_400.0
    if not said:
        assert stage.time_source == "set by Wren: cold room"


def test_a_stage_has_another_limit(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """Its limits are changed as a place's are."""
    path = "/settings/crops/ranunculus/cut_stems"
    fields = filled(
        own_visitor, path, path, "temperature", by="Wren", why="tried", ideal__high="41"
    )
    assert own_visitor.post(path, data=fields).status_code == 303
    stage = load(own_desk.folder).crops["ranunculus"].stages["cut_stems"]
    ideal = next(iter(stage.bands.values())).ideal
    assert ideal is not None
    assert ideal.high == pytest.approx(5.0)
    assert own_visitor.get("/settings/crops/ranunculus/none").status_code == 404
