"""``people.toml`` as written."""

from datetime import date
from typing import Annotated, Final, Literal

from pydantic import Field

from monitor.farm.forms.kinds import Form, Id, Language, Text
from monitor.model import Role

NAME_AT_MOST: Final = 300  # what the ledger takes of whoever writes
Address = Annotated[str, Field(min_length=1, max_length=2000)]


class PersonForm(Form):
    """``[[person]]``"""

    id: Id
    name: Annotated[Text, Field(max_length=NAME_AT_MOST)]
    addresses: list[Address] = Field(default_factory=list)
    role: Annotated[Role, Field(strict=False)] = Role.HELP
    pictures: list[Annotated[int, Field(ge=1)]] = Field(default_factory=list)
    language: Language | None = None


class DutyForm(Form):
    """``[[duty]]``: on these days of the week, between these dates; both may be left out."""

    person: Id
    weekdays: list[Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]] = Field(
        default_factory=list
    )
    first: date | None = None
    last: date | None = None
