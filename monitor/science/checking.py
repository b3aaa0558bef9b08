"""Figures outside a formula's range are refused by name, never answered quietly."""

from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from monitor.errors import OutOfRangeError

Floats: TypeAlias = npt.NDArray[np.float64]
Ints: TypeAlias = npt.NDArray[np.int64]
Flags: TypeAlias = npt.NDArray[np.bool_]
Figures: TypeAlias = float | Floats


def within(name: str, value: Figures, low: float, high: float, unit: str = "") -> Floats:
    """Return a figure or array as float64 after checking every element.

    Parameters
    ----------
    name : str
        What the figure is, for the message.
    value : float or ndarray
        Any shape.
    low, high : float
        Least and greatest figure taken, both included. [unit]
    unit : str
        Unit, for the message.

    Raises
    ------
    OutOfRangeError
        If an element is not a number or lies outside; names the first such element.
    """
    array = np.asarray(value, dtype=np.float64)
    outside = ~((array >= low) & (array <= high))
    if np.any(outside):
        where = int(np.argmax(outside))
        at = f" (element {where})" if array.ndim else ""
        raise OutOfRangeError(
            f"{name} is {array.flat[where]:g}{unit and ' ' + unit}{at}: "
            f"this takes {low:g} to {high:g}{unit and ' ' + unit}"
        )
    return array


def positive(name: str, value: float, unit: str = "") -> float:
    """Return a finite figure over zero.

    Raises
    ------
    OutOfRangeError
        If it is zero, negative, infinite or not a number.
    """
    if not (0.0 < value < np.inf):
        raise OutOfRangeError(f"{name} is {value:g} {unit}: this takes a figure over zero")
    return float(value)
