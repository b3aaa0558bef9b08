"""The furnished desk and a visitor of its pages."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.web.app import create_app
from tests.web.desk import SmallDesk, furnished
from tests.web.visiting import Visitor


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SmallDesk]:
    """Yield a desk with a day of readings, four batches and one alarm."""
    made = furnished(tmp_path_factory.mktemp("desk") / "farm")
    yield made
    made.close()


@pytest.fixture(scope="module")
def visitor(desk: SmallDesk) -> Visitor:
    """Return a visitor of the desk's pages."""
    return Visitor(create_app(desk))


@pytest.fixture
def own_desk(tmp_path: Path) -> Iterator[SmallDesk]:
    """Yield a desk of one test, whose alarm nobody has seen."""
    made = furnished(tmp_path / "farm")
    yield made
    made.close()


@pytest.fixture
def own_visitor(own_desk: SmallDesk) -> Visitor:
    """Return a visitor of that desk."""
    return Visitor(create_app(own_desk))
