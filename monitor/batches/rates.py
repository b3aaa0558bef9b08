"""How fast stems of a crop age, and the temperature that their cooler time is told at."""

from typing import Final

from monitor.farm import Crop
from monitor.model import Band
from monitor.science.storage_life import Q10, q10_of

KEPT_AT_C: Final = 3.0
"""Where no ideal band says how cold stems are kept: common practice. [°C]"""


def q10_for(crop: Crop) -> Q10:
    """Return the Q10 that the crop's file gives, else its published or a borrowed one."""
    if crop.q10 is None:
        return q10_of(crop.id)
    return Q10(crop.q10.value, 10.0, crop.q10.source, borrowed=False, grade=crop.q10.grade)


def kept_at_c(band: Band | None) -> float:
    """Return the temperature a farm's limit is meant at: the middle of the ideal band. [°C]"""
    ends = (band.ideal.low, band.ideal.high) if band and band.ideal else (None, None)
    known = [each for each in ends if each is not None]
    return sum(known) / len(known) if known else KEPT_AT_C
