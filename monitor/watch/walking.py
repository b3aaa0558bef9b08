"""A pack walked sample by sample, where a spell lasts or could begin."""

from dataclasses import dataclass, field, replace
from typing import Final

from monitor.model import Side
from monitor.watch.events import Values
from monitor.watch.plan import Line
from monitor.watch.segments import Flags, Segments
from monitor.watch.state import Run, Spell, Standing

_ROUNDING: Final = 1e-9  # a limit minus its deadband, in floating point


@dataclass(slots=True)
class Walk:
    """The walk through one pack along one line; its results are its last four fields."""

    line: Line
    seg: Segments
    value: Values
    before: Standing
    raising: Flags
    run: Run | None = None
    spell: Spell | None = None
    last: Spell | None = None
    told_times: int = 0
    ended: list[Spell] = field(default_factory=list)

    def through(self, first: int) -> None:
        """Walk every sample from the first one that was not judged before."""
        self.run, self.spell = self.before.run, self.before.spell
        self.last, self.told_times = self.before.last, self.before.told_times
        whole_ms = self.before.whole_ms
        for i in range(first, len(self.value)):
            spent_ms = int(self.seg.spent_ms[i - 1]) if i else 0
            area = int(self.seg.area[i - 1]) if i else 0
            whole_ms += spent_ms
            self._follow_run(i, spent_ms, area)
            if self.spell is not None:
                self._follow_spell(self.spell, i, spent_ms, area)
            elif self.run is not None and self._raises(i, whole_ms):
                self.spell = self.run.spell(int(self.seg.at_ms[i]))
            if self.spell is not None and self.line.cumulative_ms is not None:
                self.told_times = whole_ms // self.line.cumulative_ms

    def _raises(self, i: int, whole_ms: int) -> bool:
        if self.line.cumulative_ms is None:
            return bool(self.raising[i])
        return whole_ms // self.line.cumulative_ms > self.told_times

    def _further(self, peak: float, value: float) -> float:
        return max(peak, value) if self.line.side is Side.HIGH else min(peak, value)

    def _follow_run(self, i: int, spent_ms: int, area: int) -> None:
        value = float(self.value[i])
        if not self.seg.outside[i]:
            self.run = None
        elif self.run is None:
            began_ms = int(self.seg.cross_ms[i - 1] if i else self.seg.at_ms[0])
            self.run = Run(began_ms, spent_ms, area, value)
        else:
            run = self.run
            peak = self._further(run.peak, value)
            self.run = Run(run.began_ms, run.known_ms + spent_ms, run.area + area, peak)

    def _follow_spell(self, spell: Spell, i: int, spent_ms: int, area: int) -> None:
        at_ms = int(self.seg.at_ms[i])
        if at_ms <= spell.raised_ms:
            return
        spell = replace(
            spell,
            known_ms=spell.known_ms + spent_ms,
            unknown_ms=spell.unknown_ms + self._unknown_ms(i),
            area=spell.area + area,
            peak=self._further(spell.peak, float(self.value[i])),
            back_ms=self._back(spell, i),
            hold_ms=self._hold(spell, i),
        )
        self.spell = spell
        if spell.hold_ms is not None and at_ms - spell.hold_ms >= self.line.off_delay_ms:
            back_ms = spell.hold_ms if spell.back_ms is None else spell.back_ms
            self.last = replace(spell, back_ms=back_ms, ended_ms=at_ms)
            self.spell = None
            self.ended.append(self.last)

    def _unknown_ms(self, i: int) -> int:
        if not i or self.seg.known[i - 1]:
            return 0
        return int(self.seg.at_ms[i] - self.seg.at_ms[i - 1])

    def _back(self, spell: Spell, i: int) -> int | None:
        if self.seg.outside[i]:
            return None
        if i and self.seg.outside[i - 1]:
            return int(self.seg.cross_ms[i - 1])
        return spell.back_ms

    def _hold(self, spell: Spell, i: int) -> int | None:
        if self.seg.outside[i] or self.seg.height[i] > _ROUNDING - self.line.deadband:
            return None
        if spell.hold_ms is None or not (i and self.seg.known[i - 1]):
            return int(self.seg.at_ms[i])
        return spell.hold_ms
