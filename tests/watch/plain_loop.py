"""One limit judged by a plain loop, written apart from the program: the yardstick."""

from dataclasses import dataclass, field


@dataclass
class PlainLimit:
    """A high limit with tolerated time, deadband and off-delay; times [ms]."""

    limit: float
    tolerated_ms: int
    deadband: float
    off_delay_ms: int
    gap_ms: int
    before: tuple[int, float] | None = None
    outside_ms: int = 0
    whole_ms: int = 0
    alarm: bool = False
    back_since_ms: int | None = None
    edges: list[tuple[str, int]] = field(default_factory=list)

    def take(self, at_ms: int, value: float) -> None:
        """Take one sample, newer than all before it."""
        spent_ms = self._spent(at_ms, value)
        self.whole_ms += spent_ms
        near = self.before is not None and at_ms - self.before[0] <= self.gap_ms
        self.before = (at_ms, value)
        self.outside_ms = self.outside_ms + spent_ms if value >= self.limit else 0
        if not self.alarm:
            if value >= self.limit and self.outside_ms >= self.tolerated_ms:
                self.alarm, self.back_since_ms = True, None
                self.edges.append(("raise", at_ms))
            return
        if value >= self.limit or value > self.limit - self.deadband:
            self.back_since_ms = None
            return
        if self.back_since_ms is None or not near:
            self.back_since_ms = at_ms
        if at_ms - self.back_since_ms >= self.off_delay_ms:
            self.alarm, self.outside_ms = False, 0
            self.edges.append(("return", at_ms))

    def _spent(self, at_ms: int, value: float) -> int:
        """Return the time outside since the sample before, by a straight line."""
        if self.before is None or at_ms - self.before[0] > self.gap_ms:
            return 0
        was_ms, was = self.before
        if was >= self.limit and value >= self.limit:
            return at_ms - was_ms
        if was < self.limit and value < self.limit:
            return 0
        cross_ms = was_ms + round((self.limit - was) / (value - was) * (at_ms - was_ms))
        return at_ms - cross_ms if value >= self.limit else cross_ms - was_ms
