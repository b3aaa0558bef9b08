"""``crops.toml`` as written: bands by kind of place, and crops with their stages."""

from typing import Annotated

from pydantic import Field

from monitor.farm.crop import Figure, Note
from monitor.farm.forms.bands import BandsForm
from monitor.farm.forms.kinds import Difference, Duration, Form, Id, OneGrade, OneKind, Text


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


class CropForm(Form):
    """``[[crop]]``"""

    id: Id
    name: Text
    ethylene: NoteForm | None = None
    q10: FigureForm | None = None
    note: list[NoteForm] = Field(default_factory=list)
    stage: Annotated[list[StageForm], Field(min_length=1)]
