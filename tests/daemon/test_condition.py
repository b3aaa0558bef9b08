"""The monitor says how it is itself."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from types import SimpleNamespace
from typing import Any, cast

import pytest

from monitor.daemon.condition import Condition
from monitor.daemon.intake import Intake
from monitor.daemon.supervising import Supervisor
from monitor.farm import Broker
from monitor.mqtt.status import EventKind, SessionEvent
from monitor.mqtt.worker import IntakeCounts
from monitor.notices import drills
from tests.daemon.made import Post, readings


@dataclass
class FakeIntake:
    """An intake that is as it is told to be."""

    connected: bool = True
    problem: str = ""
    worker: Any = field(default_factory=lambda: SimpleNamespace(failing=False))
    counts: IntakeCounts = field(default_factory=IntakeCounts)
    trouble: Any = None

    def status(self) -> Any:  # noqa: ANN401  # as much of a status as is looked at
        """Return how the session stands."""
        return SimpleNamespace(connected=self.connected, problem=self.problem)


def condition(post: Post, intake: FakeIntake) -> Condition:
    """Return the condition of a monitor."""
    return Condition(post.judge, post.store, cast("Intake", intake), Supervisor())


def test_all_is_well(post: Post) -> None:
    """Connected, writable, with somebody to tell: ready, and nothing to say."""
    health = condition(post, FakeIntake()).health()
    assert (health.ready, health.broker, health.store) == (True, "connected", "writable")
    assert health.troubles == ()


def test_a_phone_that_no_drill_has_woken_for_long_is_told(post: Post) -> None:
    """Thirty days after the last drill that woke someone the first page says so, by name."""
    shown = condition(post, FakeIntake())
    post.ledger.put(drills.KEY, drills.begun(None, ["ida"], post.clock.now))
    ida = post.farm.people["ida"]
    post.ledger.alter(drills.KEY, lambda kept: drills.woken(kept, ida, post.clock.now))
    post.clock.now += 30 * 86_400_000 - 1
    assert shown.health().troubles == ()
    post.clock.now += 1
    (said,) = shown.health().troubles
    assert said.startswith("No drill has woken Ida for 30 days")


@pytest.mark.parametrize(
    ("spoil", "said", "ready"),
    [
        (lambda _, intake: setattr(intake, "connected", False), "No word from the broker", False),
        (lambda _, intake: setattr(intake.worker, "failing", True), "lost for the history", False),
        (lambda post, _: setattr(post.judge, "stuck", "disk full"), "disk full", False),
        (lambda post, _: setattr(post.judge, "farm", replace(post.farm, people={})),
         "Nobody would be told", True),
        (lambda post, _: setattr(post.judge, "farm",
                                 replace(post.farm, broker=Broker(embedded=True))),
         "inside the monitor", True),
        (lambda post, _: post.store.notices.append("readings.db was found damaged"),
         "readings.db was found damaged", True),
    ],
)  # fmt: skip
def test_each_trouble_has_a_sentence(
    post: Post, spoil: Callable[[Post, FakeIntake], None], said: str, ready: bool
) -> None:
    """What is wrong is said; without broker or store it is not ready."""
    intake = FakeIntake()
    spoil(post, intake)
    health = condition(post, intake).health()
    assert health.ready is ready
    assert [said in each for each in health.troubles] == [True]


def test_a_part_that_was_started_anew_is_named(post: Post) -> None:
    """The reason of a part's death is shown."""
    found = condition(post, FakeIntake())
    found.supervisor.deaths["watch"] = "ValueError: odd"
    assert any("watch" in each and "odd" in each for each in found.health().troubles)


def test_the_newest_last_known_value_is_remembered(post: Post) -> None:
    """Retained values are shown, one a channel."""
    found = condition(post, FakeIntake())
    found.remember(readings([0, 1], 9.0))
    (known,) = found.last_known.values()
    assert known == readings([1], 9.0)[0]


def test_an_unstable_connection_is_told_for_an_hour(post: Post) -> None:
    """Two clients of one id are one sentence among the troubles, and none an hour later."""
    intake = FakeIntake()
    now_ms = post.judge.clock.now_ms()
    intake.trouble = SessionEvent(EventKind.UNSTABLE, now_ms, "unstable, duplicate id?")
    found = condition(post, intake)
    assert [each for each in found.health().troubles if "duplicate id?" in each] != []
    intake.trouble = SessionEvent(EventKind.UNSTABLE, now_ms - 3_600_001, "unstable")
    assert found.health().troubles == ()


def test_an_address_that_matches_nothing_is_told_from_the_start(post: Post) -> None:
    """An address to which nothing can be sent is named by its person, never shown itself."""
    found = condition(post, FakeIntake())
    found.unusable = {("ida", "2"): "no address matched"}
    (said,) = found.health().troubles
    assert "ida" in said
    assert "no address matched" in said
