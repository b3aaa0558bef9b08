"""What a role allows, in words."""

from monitor.model import Role


def say_role(role: Role) -> str:
    """Return what a role allows, in words."""
    return {
        Role.SEE: "look at everything",
        Role.HELP: "look, answer alarms and record",
        Role.CHANGE: "look, answer alarms, record and change settings",
    }[role]
