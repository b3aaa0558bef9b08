"""Which limits changed between the configurations that were kept."""

import pytest

from monitor.farm.altering import altered
from monitor.model import Quantity
from monitor.store import Configuration
from tests.cli.small_farm import CROPS, FARM

OLD = {"farm.toml": FARM, "crops.toml": CROPS}
NEW = {"farm.toml": FARM, "crops.toml": CROPS.replace('high = "40 F"', 'high = "41 F"')}
UNREADABLE = {"farm.toml": "[farm", "crops.toml": ""}


def _kept(at_ms: int, by: str, texts: dict[str, str]) -> Configuration:
    return Configuration(1, at_ms, by, "", texts)


def test_a_changed_limit_is_told_with_what_it_was() -> None:
    """A limit that differs is one change, from the old figure to the new, at its acceptance."""
    found = altered([_kept(1_000, "ida", OLD), _kept(2_000, "file changed", NEW)])
    (change,) = [each for each in found if each.limit.name == "ideal to"]
    assert (change.at_ms, change.by) == (2_000, "file changed")
    assert change.limit.quantity is Quantity.TEMPERATURE
    assert change.before == pytest.approx(40 / 9)  # 40 °F is 4.444 °C: (40 - 32) / 1.8
    assert change.after == pytest.approx(5.0)  # 41 °F exactly


def test_the_first_configuration_changes_nothing() -> None:
    """Where it begins, and where the texts differ in no limit, nothing changed."""
    commented = OLD | {"farm.toml": f"# a remark\n{FARM}"}
    assert altered([_kept(1_000, "ida", OLD), _kept(2_000, "ida", commented)]) == []


def test_what_cannot_be_read_is_passed_over() -> None:
    """A change around texts that cannot be read stands at the next that can."""
    kept = [_kept(1_000, "ida", OLD), _kept(2_000, "ida", UNREADABLE), _kept(3_000, "ida", NEW)]
    assert {each.at_ms for each in altered(kept)} == {3_000}
