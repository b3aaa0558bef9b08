"""Who is told, and when: rows of the outbox, nothing sent. Pure."""

from monitor.notices.duty import (
    duty_until_ms,
    first_told,
    next_told,
    not_told_yet,
    on_duty,
    rung_first,
    uses_duty,
)
from monitor.notices.hours import (
    instant_ms,
    local_day,
    morning_due,
    next_morning_ms,
    quiet_until_ms,
)
from monitor.notices.morning import Morning, morning_message
from monitor.notices.planning import NOBODY, Letter, address, answer, due_ms, plan
from monitor.notices.reminding import due_reminders, next_reminder_ms
from monitor.notices.tonight import (
    cover_message,
    cover_window,
    heat_message,
    heat_parts,
    needs_cover,
    say_heat,
    say_tonight,
    telling,
    tonight_parts,
)

__all__ = [
    "NOBODY", "Letter", "Morning", "address", "answer", "cover_message", "cover_window", "due_ms",
    "due_reminders", "duty_until_ms", "first_told", "heat_message", "heat_parts",
    "instant_ms", "local_day", "morning_due",
    "morning_message", "needs_cover", "next_morning_ms", "next_reminder_ms", "next_told",
    "not_told_yet", "on_duty", "plan", "quiet_until_ms", "rung_first", "say_heat", "say_tonight",
    "telling", "tonight_parts", "uses_duty",
]  # fmt: skip
