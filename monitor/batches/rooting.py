"""How roots grow with thermal time: what a batch's samples and earlier batches tell.

The model, in thermal time above a base (log means natural logarithm):

- *A corm* has roots of one inch at its own thermal time R. Its roots appear at 0.5 R and
  then grow in a straight line: length x is reached at R g(x), g(x) = 0.5 + 0.5 x / 1 in.
- *A batch*: log R is logistic among its corms, with middle m and scale k; ``q`` is the
  log thermal time by which the farm's share of its corms have an inch.
- *The farm*: q of its batches is normal around the farm's own mean, with a scatter from
  batch to batch; mean and scatter are learned from its earlier batches.

The prior: one to two weeks at 45 to 50 °F hold ``q`` of a first batch four times out of
five (common practice). Scatter of corms and of batches are assumptions, from memory.

So a sample counts by the logistic chance that so many corms have reached a length, or by
the likelihood of each measured length, a corm without roots as one not yet at 0.5 R. All
posteriors are sums over a grid.

References
----------
A thermal time whose logarithm varies among seeds is usual for germination (from memory).
Hierarchical normal model: Gelman et al., Bayesian Data Analysis, ch. 5 (from memory).
Ranges of time and length: common practice.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np

from monitor.batches.book import Roots
from monitor.farm import RootRule
from monitor.science.checking import Figures, Floats

INCH_MM: Final = 25.4
EMERGENCE: Final = 0.5  # first seen from day 7 to 10 (growers), an inch by day 14
ASSUMED_LOOKED_AT: Final = 10  # a share that came without its numbers

PRIOR_RATE: Final = 8.6  # 47.5 °F over 0 °C [°C d a day]
_FARM_SD: Final = 0.22  # with the batches' 0.157 the 0.27 that 7 to 14 d ask for
_BATCH_SDS: Final = np.array([0.08, 0.12, 0.157, 0.2, 0.26])
_BATCH_SD_WEIGHTS: Final = np.array([0.15, 0.25, 0.3, 0.2, 0.1])
_Q: Final = np.linspace(np.log(12.0), np.log(800.0), 241)
_FARM_MEANS: Final = np.linspace(-3.0, 3.0, 61)  # in standard deviations of the prior
_SCALES: Final = np.exp(np.linspace(np.log(0.03), np.log(0.25), 9))
_SCALE_WEIGHTS: Final = np.exp(-0.5 * ((np.log(_SCALES) - np.log(0.083)) / 0.45) ** 2)


class Sighting(NamedTuple):
    """A sample of roots at a thermal time since the stage began. [°C d]"""

    degree_days: float
    roots: Roots


@dataclass(frozen=True, slots=True)
class Belief:
    """What is held likely of one batch: weights over ``q`` and the scale of its corms.

    ``weight`` has shape (q, scales) and sums to 1; ``learned_from`` counts the farm's
    earlier batches behind it.
    """

    weight: Floats
    share: float
    learned_from: int

    def reached_cd(self, length_mm: float) -> tuple[Floats, Floats]:
        """Return thermal times by which the share has a length, and their weights. [°C d]"""
        return np.exp(_Q) * stretch(length_mm), self.weight.sum(axis=1)

    def share_at(self, degree_days: float, length_mm: float) -> float:
        """Return the expected share of corms with roots of a length. 0 to 1"""
        z = _position(degree_days, length_mm, self.share)
        return float((self.weight / (1.0 + np.exp(-z))).sum())


def stretch(length_mm: Figures) -> Floats:
    """Return g(x): the thermal time of a length against that of one inch."""
    return np.asarray(EMERGENCE + (1.0 - EMERGENCE) * np.asarray(length_mm) / INCH_MM)


def _logit(share: float) -> float:
    bounded = min(max(share, 0.01), 0.99)
    return float(np.log(bounded / (1.0 - bounded)))


def _position(degree_days: float, length_mm: Figures, share: float) -> Floats:
    """Return where a thermal time lies among the corms' own, in scales, shape (q, scales)."""
    reached = np.log(max(degree_days, 1e-6)) - np.log(stretch(length_mm))
    return np.asarray((reached - _Q[:, None]) / _SCALES + _logit(share))


def _ln_seen(seen: Sighting, rule: RootRule) -> Floats:
    """Return the log likelihood of one sample over the grid, shape (q, scales)."""
    roots = seen.roots
    if roots.lengths_mm:
        return _ln_lengths(seen.degree_days, np.array(roots.lengths_mm), rule)
    if roots.share is None:
        return np.zeros((len(_Q), len(_SCALES)))
    of = roots.looked_at or ASSUMED_LOOKED_AT
    have = roots.rooted if roots.rooted is not None else round(of * roots.share)
    z = _position(seen.degree_days, roots.at_length_mm or rule.length_mm, rule.share)
    return np.asarray(-have * np.logaddexp(0.0, -z) - (of - have) * np.logaddexp(0.0, z))


def _ln_lengths(degree_days: float, lengths_mm: Floats, rule: RootRule) -> Floats:
    bare = int((lengths_mm <= 0.0).sum())
    total = -bare * np.logaddexp(0.0, _position(degree_days, 0.0, rule.share))
    for length_mm in lengths_mm[lengths_mm > 0.0]:
        z = _position(degree_days, float(length_mm), rule.share)
        total = total - np.abs(z) - 2.0 * np.log1p(np.exp(-np.abs(z))) - np.log(_SCALES)
    return np.asarray(total)


def _likelihood(seen: Sequence[Sighting], rule: RootRule) -> Floats:
    """Return a batch's likelihood times its prior of the scale, shape (q, scales)."""
    total = np.zeros((len(_Q), len(_SCALES)))
    for each in seen:
        total = total + _ln_seen(each, rule)
    return np.asarray(np.exp(total - total.max()) * _SCALE_WEIGHTS / _SCALE_WEIGHTS.sum())


def _prior_mean(rule: RootRule) -> float:
    """Return the prior middle of q: ten days' geometric middle of one to two weeks."""
    rate = max(PRIOR_RATE - rule.base_c, 0.5)
    return float(np.log(rate * np.sqrt(7.0 * 14.0)))


def believe(
    seen: Sequence[Sighting], earlier: Sequence[Sequence[Sighting]], rule: RootRule
) -> Belief:
    """Return what is held likely of a batch after its own samples and earlier batches'.

    Parameters
    ----------
    seen : sequence of Sighting
        This batch's samples; may be empty.
    earlier : sequence of sequence of Sighting
        Each earlier batch's samples; those without any teach nothing.
    rule : RootRule
        What the farm calls ready.
    """
    taught = [each for each in earlier if each]
    means = _prior_mean(rule) + _FARM_SD * _FARM_MEANS
    spread = (_Q - means[:, None, None]) / _BATCH_SDS[None, :, None]
    among = np.exp(-0.5 * spread**2)
    among /= among.sum(axis=2, keepdims=True)  # of q given the farm, shape (means, sds, q)
    farm = np.exp(-0.5 * _FARM_MEANS**2)[:, None] * _BATCH_SD_WEIGHTS
    for each in taught:
        farm = farm * (among @ _likelihood(each, rule).sum(axis=1))
        farm /= farm.sum()
    prior = np.tensordot(farm, among, axes=2)
    weight = prior[:, None] * _likelihood(seen, rule)
    return Belief(weight / weight.sum(), rule.share, len(taught))
