"""A cooler that warms as it never does: told before its limits are passed.

What is usual for this very cooler is learned from its own air, and only from what came
before: the level that its cycle stays under, and how long its air goes on rising above
that when it is defrosted, opened or loaded. An air that rises for longer is told.
"""

from monitor.watch.warming.habits import LEAST_DAYS, Habits, Rise, habits_after
from monitor.watch.warming.rising import Over, Rising, Seen, Warming, advance, newborn
from monitor.watch.warming.working import Harder, Worked

__all__ = [
    "LEAST_DAYS",
    "Habits",
    "Harder",
    "Over",
    "Rise",
    "Rising",
    "Seen",
    "Warming",
    "Worked",
    "advance",
    "habits_after",
    "newborn",
]
