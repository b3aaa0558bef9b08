"""Time and degree-time outside one limit, sample by sample, by linear interpolation.

Between two samples no further apart than the allowed gap the value is taken to run
straight; over a longer gap nothing is known and nothing is counted. The value of a harm
limit itself counts as outside (WHO PQS E006/TR07, by way of a secondary source).
"""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from monitor.watch.events import Times, Values

Flags = npt.NDArray[np.bool_]


class Segments(NamedTuple):
    """What lies between consecutive samples, for one line.

    ``height`` is the distance beyond the limit at each sample [K or %], ``outside`` whether
    it is outside; per segment ``known``, the time outside ``spent_ms``, the degree-time
    beyond ``area`` [K·ms or %·ms], and ``cross_ms``: the crossing where the side changes,
    the later sample where nothing is known of the way there.
    """

    at_ms: Times
    height: Values
    outside: Flags
    known: Flags
    spent_ms: Times
    area: Times
    cross_ms: Times


class Steps(NamedTuple):
    """The steps between samples, whatever the line: times, lengths, and which are known."""

    at_ms: Times
    span_ms: Times
    known: Flags


def steps(at_ms: Times, gap_ms: int) -> Steps:
    """Return the steps between samples in strictly increasing time order. [ms]"""
    span_ms = at_ms[1:] - at_ms[:-1]
    return Steps(at_ms, span_ms, span_ms <= gap_ms)


def segments(way: Steps, height: Values, *, limit_is_out: bool = True) -> Segments:
    """Account for samples against one line.

    Parameters
    ----------
    way : Steps
        Times, and which steps may be interpolated.
    height : ndarray of float64
        Value minus limit, positive outside. [K or %]
    limit_is_out : bool
        Whether the limit value itself is outside: so for harm, not for an ideal.

    References
    ----------
    Degree-time of a linear segment: both above ((Ta+Tb)/2-TL)dt, crossing
    (Thi-TL)^2/(2|Tb-Ta|)dt: exact integrals of a straight line.
    """
    at_ms, span, known = way
    outside = height >= 0.0 if limit_is_out else height > 0.0
    ha, hb = height[:-1], height[1:]
    oa, ob = outside[:-1], outside[1:]
    change = known & (oa != ob)
    staying = known & oa & ob
    steep = np.where(change, ha - hb, 1.0)
    cross = np.where(change, at_ms[:-1] + np.rint(ha / steep * span).astype(np.int64), at_ms[1:])
    part = np.where(ob, at_ms[1:] - cross, cross - at_ms[:-1])
    spent = np.where(staying, span, np.where(change, part, 0))
    top = np.where(ob, hb, ha)
    beyond = np.where(staying, (ha + hb) / 2.0, top * top / (2.0 * np.abs(steep)))
    area = np.where(staying | change, np.rint(beyond * span), 0.0).astype(np.int64)
    return Segments(at_ms, height, outside, known, spent, area, cross)
