"""``[mirror]`` of ``farm.toml`` as written."""

from typing import Annotated

from pydantic import Field

from monitor.farm.forms.kinds import Form, Id, Text
from monitor.farm.mirroring import MEASUREMENT


class MirrorForm(Form):
    """``[mirror]``"""

    url: Annotated[Text, Field(pattern=r"^https?://[^/@\s?#]+(/[^@\s?#]*)?$")]
    bucket: Text
    site: Id
    org: Text = "-"
    token: Annotated[str, Field(min_length=1, max_length=2000)] | None = None
    measurement: Annotated[Text, Field(pattern=r"^[A-Za-z][A-Za-z0-9_]{0,62}$")] = MEASUREMENT
