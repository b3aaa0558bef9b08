"""``[backup]`` and ``[history]`` of ``farm.toml`` as written."""

from typing import Annotated

from pydantic import Field

from monitor.farm.forms.kinds import Clock, Form, Text
from monitor.farm.upkeep import COPIES_KEPT, COPY_AT


class BackupForm(Form):
    """``[backup]``"""

    folder: Text
    at: Clock = COPY_AT
    keep: Annotated[int, Field(ge=1, le=1000)] = COPIES_KEPT


class HistoryForm(Form):
    """``[history]``"""

    thin_after_months: Annotated[int, Field(ge=6, le=600)] | None = None
