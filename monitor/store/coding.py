"""Values in short form: a decimal as an integer, whatever has no short form as it is.

An integer ``n`` in the file means, with ``k`` and ``code`` from ``divmod(n, 3)``:

====  =======================  ================================================
code  value                    typical source
====  =======================  ================================================
0     ``k / 100``              two decimals in °C or %
1     ``(k / 100 - 32) / 1.8`` two decimals in °F, as ``units.to_celsius`` reads
2     ``k / 10000``            sixteenths of a degree and the like
====  =======================  ================================================

A form is used only where it gives back exactly the same number; a REAL in the file is
the value itself. Two or three bytes instead of eight: most of a reading's place on disk.
"""

from collections.abc import Sequence
from math import nan
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from monitor.store.records import Floats, Ints

_CODES: Final = 3
_LARGEST: Final = 1e9
"""Beyond this no short form is tried: it would not be shorter. [°C, % or V]"""


def encode(values: Floats) -> list[int | float]:
    """Return what is written to the file for each value."""
    small = np.abs(values) < _LARGEST
    tame = np.where(small, values, 0.0)
    coded = np.zeros(values.shape, dtype=np.int64)
    short = np.zeros(values.shape, dtype=np.bool_)
    for code, whole in enumerate(_wholes(tame)):
        fits = small & ~short & (_value(whole, code) == tame)
        coded[fits] = whole[fits].astype(np.int64) * _CODES + code
        short |= fits
        if short.all():
            return _listed(coded)
    pairs = zip(_listed(short), _listed(coded), _listed(values), strict=True)
    return [number if is_short else value for is_short, number, value in pairs]


def decode(stored: Sequence[int | float]) -> Floats:
    """Return the values that ``encode`` was given."""
    numbers = np.array(stored)
    if numbers.dtype.kind not in "if":  # a damaged file: what is no number is unknown
        stored = [each if isinstance(each, int | float) else nan for each in stored]
        numbers = np.array(stored, np.float64)
    if numbers.dtype == np.int64:
        return decode_short(numbers)
    values = numbers.astype(np.float64)
    short = np.fromiter((type(each) is int for each in stored), np.bool_, len(stored))
    values[short] = decode_short(values[short].astype(np.int64))
    return values


def decode_one(stored: float) -> float:
    """Return the one value that ``encode`` was given."""
    if not isinstance(stored, int):
        return stored if isinstance(stored, float) else nan
    whole, code = divmod(stored, _CODES)
    return (whole / 100.0, (whole / 100.0 - 32.0) / 1.8, whole / 10_000.0)[code]


def _listed(column: NDArray[Any]) -> list[Any]:
    """Return an array of one dimension as plain Python numbers."""
    plain: list[Any] = column.tolist()
    return plain


def _wholes(values: Floats) -> tuple[Floats, Floats, Floats]:
    hundredths = np.rint(values * 100.0)
    fahrenheit = np.rint((values * 1.8 + 32.0) * 100.0)
    return hundredths, fahrenheit, np.rint(values * 10_000.0)


def _value(whole: NDArray[np.float64] | Ints, code: int) -> Floats:
    if code == 0:
        return np.asarray(whole / 100.0)
    if code == 1:
        return np.asarray((whole / 100.0 - 32.0) / 1.8)
    return np.asarray(whole / 10_000.0)


def decode_short(numbers: Ints) -> Floats:
    """Return the values of integers in the file."""
    whole, code = np.divmod(numbers, _CODES)
    values = _value(whole, 0)
    for other in (1, 2):
        chosen = code == other
        if chosen.any():
            values[chosen] = _value(whole[chosen], other)
    return values
