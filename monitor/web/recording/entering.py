"""Takes what was asked into the ledger, once, and dates it by the farm's clock."""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from monitor.batches import fold
from monitor.batches.asked import Asked, plan
from monitor.batches.rules import Writing
from monitor.errors import LedgerRuleError
from monitor.farm import from_now, parse_when
from monitor.model import LedgerEntry, NewEntry
from monitor.model.batch import Slip
from monitor.phrase import Phrase
from monitor.web.desk import Desk
from monitor.web.recording.words import VERBS

_CLOCK: Final = Phrase(
    "the phone's clock was changed after this was written down, so when it "
    "was is not known: correct it and give the time with --at"
)
TOKEN_AT_LEAST: Final = 16
_SLACK_MS: Final = 600_000  # the farm's own clock may be set, and a page is made before it is seen
_AT_ONCE_MS: Final = 2000  # the way here of what was sent at once; it never comes before its batch


@dataclass(frozen=True, slots=True)
class Sent:
    """One thing to write down: a page's verb, who, the words, the token, and its age. [ms]

    ``seen_ms`` is the farm's time on the page it was written on, 0 where that is not known.
    """

    verb: str
    token: str
    by: str
    words: Mapping[str, str]
    age_ms: int = 0
    seen_ms: int = 0

    @property
    def slip(self) -> Slip:
        """Return what it is known again by: the token, and all that it asks but for its age."""
        asked = json.dumps([self.verb, self.by, dict(self.words)], sort_keys=True)
        return Slip(self.token, hashlib.sha256(asked.encode()).hexdigest())


def enter(desk: Desk, sent: Sent) -> Sequence[LedgerEntry]:
    """Write down what was asked, or return what was written when it came before.

    Raises
    ------
    LedgerRuleError
        If the ledger does not allow it, or it has no token.
    UnknownNameError
        If it names what does not exist.
    UnitError
        If a time cannot be read.
    """
    farm, now_ms = desk.farm(), desk.now_ms()
    if sent.verb not in VERBS or len(sent.token) < TOKEN_AT_LEAST:
        raise LedgerRuleError(Phrase("this form is not whole: load the page again"))

    def build(entries: Sequence[LedgerEntry]) -> Sequence[NewEntry]:
        at_ms = _at_ms(sent, desk, now_ms)
        writing = Writing(by=sent.by, at_ms=at_ms, now_ms=now_ms, zone=farm.zone)
        asked = Asked(farm, fold(entries), writing, sent.words)
        return plan(VERBS[sent.verb], asked).build(entries)

    return desk.record(build, sent.slip)


def _at_ms(sent: Sent, desk: Desk, now_ms: int) -> int:
    """Return when it happened: what was said of it, as of the moment it was written down."""
    at = sent.words.get("at", "now")
    age_ms = sent.age_ms if abs(sent.age_ms) > _AT_ONCE_MS else 0
    before_its_page = now_ms - age_ms < sent.seen_ms - _SLACK_MS
    if from_now(at) and (age_ms < 0 or before_its_page):
        raise LedgerRuleError(_CLOCK)
    return parse_when(at, desk.farm().zone, now_ms if before_its_page else now_ms - age_ms)
