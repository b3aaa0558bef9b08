"""What someone who has signed in may do."""

from enum import StrEnum


class Role(StrEnum):
    """What a person may do on the pages; each may do what those before it may."""

    SEE = "see"
    HELP = "help"
    CHANGE = "change"

    def covers(self, needed: "Role") -> bool:
        """Return whether whoever has this role may do what another is needed for."""
        order = list(Role)
        return order.index(self) >= order.index(needed)
