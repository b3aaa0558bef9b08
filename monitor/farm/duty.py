"""Who is on duty by the files: on which days of the week, or from one date to another."""

from dataclasses import dataclass
from datetime import date
from typing import Final

WEEKDAYS: Final = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


@dataclass(frozen=True, slots=True)
class Duty:
    """One ``[[duty]]``; without days of the week it is every day, without dates always."""

    person: str
    weekdays: tuple[int, ...] = ()
    first: date | None = None
    last: date | None = None

    def covers(self, day: date) -> bool:
        """Return whether it is of this day, which lasts until the next morning."""
        if self.weekdays and day.weekday() not in self.weekdays:
            return False
        after = self.first is None or day >= self.first
        return after and (self.last is None or day <= self.last)
