"""Bodies and probes that follow their surroundings late."""

from itertools import accumulate
from math import expm1

import numpy as np

from simulator.dice import Floats


def follow(around: Floats, start: float, steps_per_lag: float) -> Floats:
    """Return how a body follows its surroundings, each value held for one step.

    Parameters
    ----------
    around : ndarray
        The surroundings in each step.
    start : float
        The body before the first step, in the same unit.
    steps_per_lag : float
        Length of a step over the time constant; infinite follows at once.

    References
    ----------
    First-order lag with held input: Tp' = Ta + (Tp - Ta) exp(-dt / tau).
    """
    gain = -expm1(-steps_per_lag)
    if gain >= 1.0:
        return around.copy()
    steps = accumulate(around.tolist(), lambda body, now: body + gain * (now - body), initial=start)
    return np.array([*steps][1:])
