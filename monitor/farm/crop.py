"""A kind of flower and its steps here, as the crops file tells them."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from monitor.errors import UnknownNameError
from monitor.model import Grade, Stage


@dataclass(frozen=True, slots=True)
class Note:
    """A fact of the trade with its grade of evidence; shown, never judged by."""

    text: str
    grade: Grade
    source: str


@dataclass(frozen=True, slots=True)
class Figure:
    """A number with its grade of evidence."""

    value: float
    grade: Grade
    source: str


@dataclass(frozen=True)
class RootRule:
    """What the farm calls ready to plant out, and too long.

    Parameters
    ----------
    length_mm, share : float
        Ready: this share of the corms has roots of this length. [mm], 0 to 1
    too_long_mm : float
        Too long: the same share beyond it; roots snap as they are planted. [mm]
    base_c : float
        Base of thermal time; no published one was found, 0 °C is a convention. [°C]
    """

    length_mm: float = 25.4
    share: float = 0.8
    too_long_mm: float = 38.1
    base_c: float = 0.0


@dataclass(frozen=True, slots=True)
class Crop:
    """A kind of flower; ``stages`` stand in the order of its life.

    ``units`` says what each stage is counted in. ``ethylene`` and ``q10`` are None where
    nothing was published; ``roots`` says when its corms are ready to plant out.
    """

    id: str
    name: str
    stages: Mapping[str, Stage]
    units: Mapping[str, str] = field(default_factory=dict)
    ethylene: Note | None = None
    q10: Figure | None = None
    notes: tuple[Note, ...] = ()
    roots: RootRule = RootRule()

    def unit(self, stage_id: str) -> str:
        """Return what a stage is counted in: corms, plants, stems, tubers, …

        Raises
        ------
        UnknownNameError
            If the crop has no such stage.
        """
        if stage_id not in self.units:
            raise UnknownNameError(
                f"{self.name} has no stage {stage_id!r}; it has {', '.join(self.stages)}"
            )
        return self.units[stage_id]
