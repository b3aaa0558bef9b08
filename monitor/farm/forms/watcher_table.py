"""``[watcher]`` of ``farm.toml`` and ``[place.card]`` as written."""

import re
from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from monitor.farm.forms.kinds import Duration, Form, Text, Topic
from monitor.farm.watcher import LEAST_MISSED

_HIGHEST_PORT = 65_535


def _listen(text: object) -> str:
    found = re.fullmatch(r"(\[[0-9A-Fa-f:]+\]|[A-Za-z0-9._-]+):(\d{1,5})", str(text))
    if found is None or not 1 <= int(found[2]) <= _HIGHEST_PORT:
        raise ValueError('a host and a port are wanted here: write them as "0.0.0.0:8585"')
    return str(text)


Secret = Annotated[str, Field(min_length=1, max_length=2000)]
Listen = Annotated[str, BeforeValidator(_listen)]


class SecondForm(Form):
    """``second``: this folder is that of a second watcher."""

    name: Text
    listen: Listen
    secret: Secret
    expect_every: Annotated[Duration, Field(gt=0)] = 60.0
    grace: Annotated[Duration, Field(gt=0)] = 600.0

    @model_validator(mode="after")
    def _patient(self) -> Self:
        if self.grace < LEAST_MISSED * self.expect_every:
            raise ValueError(
                "grace is shorter than two heartbeats, so one lost message would wake someone: "
                "make it longer, as 10 min"
            )
        return self


class WatcherForm(Form):
    """``[watcher]``"""

    heartbeat_url: Secret | None = None
    secret: Secret | None = None
    method: Literal["POST", "GET"] = "POST"
    every: Annotated[Duration, Field(gt=0, le=3600)] = 60.0
    topic: Topic | None = None
    watches: Text | None = None
    second: SecondForm | None = None


class PhoneForm(Form):
    """One of ``phones``."""

    name: Text
    number: Text


class CardForm(Form):
    """``[place.card]``"""

    steps: Annotated[list[Text], Field(max_length=12)] = Field(default_factory=list)
    phones: Annotated[list[PhoneForm], Field(max_length=6)] = Field(default_factory=list)
    spare: Text | None = None
