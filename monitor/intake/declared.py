"""What decoding needs of a declared sensor; the farm's own classes fit."""

from collections.abc import Sequence
from typing import Protocol

from monitor.model import Quantity


class ChannelLike(Protocol):
    """One quantity of a sensor, and where its value stands in a message."""

    @property
    def quantity(self) -> Quantity:
        """Return what it measures."""

    @property
    def path(self) -> str | None:
        """Return the dotted path of its value; None for a bare number."""

    @property
    def unit(self) -> str:
        """Return ``"C"``, ``"F"``, ``"K"``, ``"%"``, or ``""`` for door and mains."""

    @property
    def decimal_comma(self) -> bool:
        """Return whether it writes ``4,1``."""


class SensorLike(Protocol):
    """An instrument and the topic it publishes on."""

    @property
    def id(self) -> str:
        """Return its id."""

    @property
    def topic(self) -> str:
        """Return the topic, without wildcards."""

    @property
    def channels(self) -> Sequence[ChannelLike]:
        """Return its channels."""

    @property
    def time_path(self) -> str | None:
        """Return the path of the device's own time, where declared."""
