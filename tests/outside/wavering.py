"""A wandering temperature that no formula was fitted to."""

import numpy as np

from monitor.science.series import Samples


def wavering(count: int, seed: int, step_s: float = 60.0) -> Samples:
    """Return a wandering temperature with irregular steps and gaps."""
    dice = np.random.default_rng(seed)
    steps_ms = np.round(dice.uniform(0.3, 1.7, count) * step_s * 1000.0).astype(np.int64)
    steps_ms[dice.integers(0, count, count // 100)] += 3_600_000
    value = 4.0 + 3.0 * np.sin(np.arange(count) / 40.0) + dice.normal(0.0, 0.8, count)
    return Samples(np.cumsum(steps_ms), value, 3.0 * step_s)
