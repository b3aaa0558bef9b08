"""The table of faults names tests that exist, and misses no fault that is known."""

import ast
import tomllib
from collections import Counter
from functools import cache
from pathlib import Path

import pytest

from tests.shared_files import shared

TESTS = Path(__file__).resolve().parent
FAULTS = tomllib.loads((TESTS / "faults.toml").read_text(encoding="utf-8"))["fault"]


@cache
def _tests_in(file: str) -> frozenset[str]:
    """Return the names of the tests that a file defines, none where there is no file."""
    path = TESTS / file
    if not path.is_file():
        return frozenset()
    nodes = ast.walk(ast.parse(path.read_text(encoding="utf-8")))
    return frozenset(each.name for each in nodes if isinstance(each, ast.FunctionDef))


@pytest.mark.parametrize("fault", FAULTS, ids=lambda each: each["what"])
def test_each_fault_is_shown_by_tests_that_exist(fault: dict[str, list[str]]) -> None:
    """A test that is renamed or taken away leaves no fault without its own."""
    named = [each.partition("::") for each in fault["shown_by"]]
    missing = [each for each in named if each[2] not in _tests_in(each[0])]
    assert named != []
    assert missing == []


def test_no_fault_of_the_handbook_is_left_out() -> None:
    """Each heading of the handbook's page of faults has as many kinds here as there."""
    counted: Counter[str] = Counter()
    heading = ""
    for line in shared("handbook/faults.md").read_text(encoding="utf-8").splitlines():
        if line.startswith("## "):
            heading = line[3:]
        elif line.startswith("- "):
            counted[heading] += 1
    assert Counter(each["part"] for each in FAULTS) == counted
