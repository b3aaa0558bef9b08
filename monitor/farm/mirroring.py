"""The time-series server that every reading is copied to."""

from dataclasses import dataclass
from typing import Final

from pydantic import SecretStr

MEASUREMENT: Final = "cormwatch"


@dataclass(frozen=True, slots=True)
class Mirror:
    """Where readings are copied to: a server that takes line protocol at ``/api/v2/write``.

    ``site`` tells this farm from others in the same bucket.
    """

    url: str
    bucket: str
    site: str
    org: str = "-"
    token: SecretStr | None = None
    measurement: str = MEASUREMENT
