"""One mistake, or doubtful thing, in the farm's files."""

from dataclasses import dataclass
from typing import Literal

Severity = Literal["error", "warning"]


@dataclass(frozen=True, slots=True)
class Problem:
    """What is wrong, where it stands, and what to do about it.

    ``key`` is a path as ``place[tunnel-1].bands.temperature.ideal.low``: an entry is named
    by its id, or counted from one where it has none. ``value`` is empty where the key is
    missing, and ``"(secret)"`` where it is none of anybody's business.
    """

    severity: Severity
    file: str
    key: str
    value: str
    message: str
    remedy: str

    def __str__(self) -> str:
        where = f"{self.file}: {self.key}" if self.key else self.file
        shown = f" = {self.value}" if self.value else ""
        return f"{where}{shown}: {self.message}; {self.remedy}"


def only_errors(problems: list[Problem]) -> list[Problem]:
    """Return the errors among the problems, in their order."""
    return [each for each in problems if each.severity == "error"]
