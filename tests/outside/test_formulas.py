"""Every formula against its source, as the printed table shows them."""

import pytest

from tests.outside.checking import Check
from tests.outside.table import CHECKS
from tests.shared_files import absent

pytestmark = pytest.mark.outside


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: f"{check.formula}: {check.source}")
def test_a_formula_agrees_with_its_source(check: Check) -> None:
    """The worst error against the published figures is no more than allowed."""
    if not check.runnable:
        absent(f"../shared/{check.needs} is not here")
    assert check.worst() <= check.allowed
