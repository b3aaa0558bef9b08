"""A judge over real files."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.daemon.made import Post, farm


@pytest.fixture
def post(tmp_path: Path) -> Iterator[Post]:
    """Yield a judge over the made-up farm's files."""
    post = Post(farm(tmp_path))
    yield post
    post.close()
