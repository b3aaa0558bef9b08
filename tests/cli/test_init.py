"""``cormwatch init`` writes a farm that is sound, or nothing."""

import argparse
import getpass
import io
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.access import certificate
from monitor.access.accounts import accounts_of
from monitor.access.passwords import fits
from monitor.cli import main
from monitor.cli.init_ import broker_at, questions
from monitor.errors import FarmError
from monitor.farm import Problem, check, load
from monitor.farm.starting import Start
from monitor.model import Role
from monitor.units import TemperatureUnit
from monitor.web.guard import known_hosts
from monitor.web.visitor import proxied


def _errors(folder: Path) -> list[Problem]:
    return [each for each in check(folder, {}) if each.severity == "error"]


@pytest.mark.parametrize("more", [[], ["--units", "C"], ["--embedded"]])
def test_init_writes_a_farm_without_a_mistake(tmp_path: Path, more: list[str]) -> None:
    """A new farm passes the check, in either unit and with either broker."""
    folder = tmp_path / "new" / "farm"
    assert main(["init", str(folder), "--yes", *more]) == 0
    assert _errors(folder) == []
    assert sorted(each.name for each in folder.iterdir()) == [
        "crops.toml", "farm.toml", "people.toml",
    ]  # fmt: skip


def test_the_answers_given_are_the_farms(tmp_path: Path) -> None:
    """Name, units and broker of the command line stand in the farm."""
    name = 'Ünter "the" Hill \\ Co'
    args = ["--yes", "--name", name, "--units", "C", "--broker", "192.168.7.4:1884"]
    assert main(["init", str(tmp_path), *args]) == 0
    farm = load(tmp_path, {})
    assert farm.name == name
    assert farm.units is TemperatureUnit.CELSIUS
    assert (farm.broker.host, farm.broker.port, farm.broker.embedded) == (
        "192.168.7.4", 1884, False,
    )  # fmt: skip


def test_the_broker_is_by_default_the_one_on_this_computer(tmp_path: Path) -> None:
    """Without an answer the broker is 127.0.0.1:1883."""
    main(["init", str(tmp_path), "--yes"])
    broker = load(tmp_path, {}).broker
    assert (broker.host, broker.port, broker.embedded) == ("127.0.0.1", 1883, False)


def test_limits_in_celsius_are_the_same_to_a_tenth(tmp_path: Path) -> None:
    """Converting a starter changes no limit by more than half a tenth of a degree."""
    main(["init", str(tmp_path / "f"), "--yes"])
    main(["init", str(tmp_path / "c"), "--yes", "--units", "C"])
    one, other = load(tmp_path / "f", {}), load(tmp_path / "c", {})
    for name, place in one.places.items():
        for quantity, band in place.bands.items():
            twin = other.places[name].bands[quantity]
            for mine, its in ((band.ideal, twin.ideal), (band.harm, twin.harm)):
                for side in ("low", "high"):
                    was, now = getattr(mine, side, None), getattr(its, side, None)
                    assert (was is None) == (now is None)
                    assert was is None or abs(was - now) <= 0.05 + 1e-9


def test_files_are_for_their_owner_only(tmp_path: Path) -> None:
    """Nobody else on the computer may read the files."""
    main(["init", str(tmp_path), "--yes"])
    assert {stat.S_IMODE(each.stat().st_mode) for each in tmp_path.iterdir()} == {0o600}


@pytest.mark.parametrize("file", ["farm.toml", "crops.toml", "people.toml"])
def test_a_folder_with_a_farm_is_left_as_it_is(
    tmp_path: Path, file: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder that has one of the files is refused with exit 2, and nothing is written."""
    (tmp_path / file).write_text("mine", encoding="utf-8")
    assert main(["init", str(tmp_path), "--yes"]) == 2
    assert [each.name for each in tmp_path.iterdir()] == [file]
    assert (tmp_path / file).read_text(encoding="utf-8") == "mine"
    assert f"has {file} already" in capsys.readouterr().err


@pytest.mark.parametrize(
    "more", [["--broker", "barn:99999"], ["--broker", "mqtt://barn"], ["--name", "a\x00b"]]
)
def test_a_wrong_answer_leaves_nothing_behind(tmp_path: Path, more: list[str]) -> None:
    """An answer that does not fit ends with exit 2 and no folder."""
    assert main(["init", str(tmp_path / "deep" / "farm"), "--yes", *more]) == 2
    assert list(tmp_path.iterdir()) == []


def test_a_failing_disk_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """If the last file cannot be moved in, those before it are taken away again."""

    def rename(path: Path, target: Path) -> Path:
        if path.name == "farm.toml":
            raise OSError(28, "No space left on device")
        path.replace(target)
        return target

    monkeypatch.setattr(Path, "rename", rename)
    assert main(["init", str(tmp_path), "--yes"]) == 2
    assert list(tmp_path.iterdir()) == []
    assert "No space left" in capsys.readouterr().err


def test_a_file_in_the_way_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder that cannot be made is an error with its reason."""
    (tmp_path / "file").write_text("", encoding="utf-8")
    assert main(["init", str(tmp_path / "file" / "farm"), "--yes"]) == 2
    assert "Not a directory" in capsys.readouterr().err


def test_a_folder_that_may_not_be_looked_into_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder without rights is an error with its reason, not a traceback."""

    def exists(_path: Path) -> bool:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "exists", exists)
    assert main(["init", str(tmp_path / "farm"), "--yes"]) == 2
    assert "farm cannot be looked into (Permission denied)" in capsys.readouterr().err


def test_the_next_steps_are_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """At the end the commands to go on with are printed."""
    main(["init", str(tmp_path), "--yes"])
    said = capsys.readouterr().out
    assert f"cormwatch check --farm {tmp_path}" in said
    assert f"cormwatch run --farm {tmp_path}" in said


class _Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_a_person_is_asked_a_few_questions(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """On a terminal five questions are asked, and the address is kept in a file of its own."""
    answers: Iterator[str] = iter(["Oddmoor", "c", "embedded"])
    hidden: list[str] = []

    def answer_hidden(prompt: str) -> str:
        hidden.append(prompt)
        return "json://127.0.0.1/hush" if "address" in prompt.lower() else ""

    monkeypatch.setattr("sys.stdin", _Terminal())
    monkeypatch.setattr("builtins.input", lambda _prompt: next(answers))
    monkeypatch.setattr(getpass, "getpass", answer_hidden)
    assert main(["init", str(tmp_path)]) == 0
    farm = load(tmp_path, {})
    assert (farm.name, farm.units.value, farm.broker.embedded) == ("Oddmoor", "C", True)
    (address,) = farm.people["robin"].addresses
    assert address.get_secret_value() == "json://127.0.0.1/hush"
    assert stat.S_IMODE((tmp_path / "secrets" / "robin-phone").stat().st_mode) == 0o600
    assert stat.S_IMODE((tmp_path / "secrets").stat().st_mode) == 0o700
    assert len(hidden) == 2
    assert not (tmp_path / "secrets" / "accounts.json").exists()
    printed = capsys.readouterr()
    assert "hush" not in printed.out + printed.err + "".join(farm.texts.values())
    assert check(tmp_path, {}) == []


def test_what_was_given_is_not_asked() -> None:
    """Only what the command line left open is asked."""

    def ask(prompt: str) -> str:
        raise AssertionError(prompt)

    args = argparse.Namespace(name="x", units="F", broker="barn", embedded=False)
    start = questions(Start(name="x", host="barn"), args, ask, lambda _: "")
    assert start == Start(name="x", host="barn")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("barn", ("barn", 1883)), ("10.0.0.4:8883", ("10.0.0.4", 8883)),
        ("[fe80::1]:1884", ("fe80::1", 1884)),
    ],
)  # fmt: skip
def test_a_broker_is_a_host_with_or_without_a_port(text: str, expected: tuple[str, int]) -> None:
    """A host alone has the usual port."""
    assert broker_at(text) == expected


@pytest.mark.parametrize("text", ["", "barn:", "barn:0", "a b", "user:pass@barn", "::1"])
def test_what_is_no_broker_is_refused_without_repeating_it(text: str) -> None:
    """A text that may hold a password is not said again."""
    with pytest.raises(FarmError, match=r"192\.168\.1\.10:1883") as caught:
        broker_at(text)
    assert "pass" not in str(caught.value)


def test_the_first_password_comes_by_standard_input(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """It is never an argument, is kept as a hash, and opens nothing to the network by itself."""
    monkeypatch.setattr("sys.stdin", io.StringIO("wet glove 3am\n"))
    assert main(["init", str(tmp_path / "f"), "--yes", "--password-stdin"]) == 0
    farm = load(tmp_path / "f", {})
    assert fits(accounts_of(farm.directory).of("robin").password, "wet glove 3am")
    assert farm.people["robin"].role is Role.CHANGE
    assert farm.web.host == "127.0.0.1"
    told = capsys.readouterr()
    assert "wet glove" not in told.out + told.err


@pytest.mark.parametrize(("typed", "more"), [("short", []), ("", []), ("password1", ["--phones"])])
def test_a_password_that_will_not_do_leaves_nothing_behind(
    tmp_path: Path, typed: str, more: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Init ends with 2 before it writes."""
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{typed}\n"))
    assert main(["init", str(tmp_path / "f"), "--yes", "--password-stdin", *more]) == 2
    assert not (tmp_path / "f").exists()


def test_phones_are_let_in_by_a_certificate_of_the_farms_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """With a password the pages listen to the network, encrypted, and the trust step is told."""
    monkeypatch.setattr("sys.stdin", io.StringIO("wet glove 3am\n"))
    assert main(["init", str(tmp_path / "f"), "--yes", "--phones", "--password-stdin"]) == 0
    farm = load(tmp_path / "f", {})
    assert farm.web.host == "0.0.0.0"  # noqa: S104 - what was asked for
    assert farm.web.certificate == tmp_path / "f" / "secrets" / "pages.crt"
    assert _errors(tmp_path / "f") == []
    assert "fingerprint" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("names", "base"),
    [
        (["localhost", "::1", "barn.local", "192.168.7.5"], "https://192.168.7.5:8484"),
        (["127.0.0.1", "barn.local"], "https://barn.local:8484"),
        (["barn.local", "fd00::5"], "https://[fd00::5]:8484"),
        (["localhost"], None),
    ],
)  # fmt: skip
def test_links_open_on_the_phones_that_are_let_in(
    names: list[str], base: str | None, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    """Messages name the address of the trust step; every name of the certificate is answered."""
    monkeypatch.setattr(certificate, "own_names", lambda: names)
    monkeypatch.setattr("sys.stdin", io.StringIO("wet glove 3am\n"))
    assert main(["init", str(tmp_path / "f"), "--yes", "--phones", "--password-stdin"]) == 0
    web = load(tmp_path / "f", {}).web
    assert web.base_url == base
    assert known_hosts(web) >= set(names)
    assert not proxied(web)
    assert f"open {base or 'https://THIS-COMPUTER:8484'}/authority.crt" in capsys.readouterr().out


def test_phones_without_a_password_are_refused(tmp_path: Path) -> None:
    """Nothing is opened that nobody has to sign in to."""
    assert main(["init", str(tmp_path / "f"), "--yes", "--phones"]) == 2
    assert not (tmp_path / "f").exists()
