"""``crops.toml`` as written: bands by kind of place, and crops with their stages."""

from typing import Annotated, Self

from pydantic import Field, model_validator

from monitor.farm.crop import Figure, Note, RootRule
from monitor.farm.forms.bands import BandsForm
from monitor.farm.forms.kinds import (
    Difference,
    Duration,
    Form,
    Id,
    Length,
    OneGrade,
    OneKind,
    Percent,
    Temperature,
    Text,
)


class KindForm(Form):
    """``[kind.cooler]``: what every place of a kind has, unless it says otherwise."""

    lag: Duration | None = None
    deadband: Difference | None = None
    humidity_deadband: Difference | None = None
    off_delay: Duration | None = None
    first_look: Text | None = None
    bands: BandsForm = BandsForm()


class NoteForm(Form):
    """A fact with its grade and source."""

    text: Text
    grade: OneGrade
    source: Text

    def built(self) -> Note:
        """Return it as it is shown."""
        return Note(self.text, self.grade, self.source)


class FigureForm(Form):
    """A number with its grade and source."""

    value: Annotated[float, Field(gt=0)]
    grade: OneGrade
    source: Text

    def built(self) -> Figure:
        """Return it as it is used."""
        return Figure(self.value, self.grade, self.source)


class StageForm(Form):
    """``[[crop.stage]]``"""

    id: Id
    name: Text | None = None
    places: list[OneKind] = Field(default_factory=list)
    unit: Text
    least: Duration | None = None
    longest: Duration | None = None
    tell_before: Duration = 0.0
    late_harms: bool = False
    time_grade: OneGrade | None = None
    time_source: Text | None = None
    bands: BandsForm = BandsForm()


class RootsForm(Form):
    """``[crop.roots]``: what the farm calls ready to plant out, and too long."""

    length: Annotated[Length, Field(gt=0)] = RootRule.length_mm
    share: Annotated[Percent, Field(ge=10, le=99)] = 100 * RootRule.share
    too_long: Length = RootRule.too_long_mm
    base: Temperature = RootRule.base_c

    @model_validator(mode="after")
    def _longer(self) -> Self:
        if self.too_long <= self.length:
            raise ValueError("too_long is not over length: roots are ready first")
        return self

    def built(self) -> RootRule:
        """Return it as it is used."""
        return RootRule(self.length, self.share / 100, self.too_long, self.base)


class CropForm(Form):
    """``[[crop]]``"""

    id: Id
    name: Text
    ethylene: NoteForm | None = None
    q10: FigureForm | None = None
    roots: RootsForm = RootsForm()
    note: list[NoteForm] = Field(default_factory=list)
    stage: Annotated[list[StageForm], Field(min_length=1)]
