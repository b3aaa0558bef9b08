"""Whatever comes, nothing escapes: a short draw with the tests, a long one by command.

``FUZZ_EXAMPLES=20000 .venv-test/bin/python -m pytest tests/fuzzing`` draws that many times
from each, new ones every time; without it the draws are few, and the same on every machine.
"""

import os
from typing import Final

from hypothesis import HealthCheck, settings

ASKED: Final = os.environ.get("FUZZ_EXAMPLES")


def drawn(few: int) -> settings:
    """Return how often to draw: so many times with the tests, more by command."""
    return settings(
        max_examples=int(ASKED or few),
        deadline=None,
        derandomize=ASKED is None,
        database=None,
        suppress_health_check=list(HealthCheck),
    )
