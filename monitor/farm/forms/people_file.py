"""``people.toml`` as written."""

from typing import Annotated

from pydantic import Field

from monitor.farm.forms.kinds import Form, Id, Text

Address = Annotated[str, Field(min_length=1, max_length=2000)]


class PersonForm(Form):
    """``[[person]]``"""

    id: Id
    name: Text
    addresses: list[Address] = Field(default_factory=list)
