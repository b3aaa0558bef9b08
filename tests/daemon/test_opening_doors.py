"""The pages are opened to the network only once somebody has a password."""

from pathlib import Path

import pytest

from monitor.access.accounts import Account, accounts_of
from monitor.cli import main
from monitor.daemon.pages import refuse_open
from monitor.errors import FarmError
from monitor.farm import Farm, load


@pytest.fixture
def farm(tmp_path: Path) -> Farm:
    """Return a starter farm, whose only person is Robin."""
    main(["init", str(tmp_path), "--yes", "--embedded"])
    return load(tmp_path, {})


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.168.7.2", "barn.local"])  # noqa: S104
def test_without_a_password_the_network_is_refused_with_the_reason(farm: Farm, host: str) -> None:
    """The message says what to do first; a password of nobody on the farm does not count."""
    accounts_of(farm.directory).keep("somebody-else", Account("$argon2id$"))
    with pytest.raises(FarmError, match="cormwatch people password NAME"):
        refuse_open(farm, host)


@pytest.mark.parametrize("host", ["127.0.0.1", "::1", "localhost"])
def test_this_computer_needs_none(farm: Farm, host: str) -> None:
    """On the loopback the pages are served before anybody has a password."""
    refuse_open(farm, host)


def test_with_a_password_the_network_is_let_in(farm: Farm) -> None:
    """One person with a password is enough."""
    accounts_of(farm.directory).keep("robin", Account("$argon2id$"))
    refuse_open(farm, "0.0.0.0")  # noqa: S104 - the case


def test_run_refuses_and_says_why(farm: Farm, capsys: pytest.CaptureFixture[str]) -> None:
    """The command ends with 2 and the reason, and nothing listens."""
    asked = ["run", "--listen", "0.0.0.0:0", "--farm", str(farm.directory)]
    assert main(asked) == 2
    assert "nobody has a password" in capsys.readouterr().err
