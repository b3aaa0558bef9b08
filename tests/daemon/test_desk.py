"""What a page writes is taken over by the running monitor before the next page is shown."""

import asyncio
from typing import cast

from monitor.batches.loading import end_loading, load
from monitor.daemon.desk import RunningDesk
from monitor.daemon.intake import Intake
from monitor.daemon.watching import Watching
from monitor.web.changes import Changes
from monitor.web.desk import Health
from tests.daemon.made import Post
from tests.daemon.test_watching import StillIntake
from tests.watch.made import HOUR_MS


def test_what_a_page_records_is_judged_by_at_once(post: Post) -> None:
    """The entry stands in the monitor's book when the call returns; an empty one says so."""
    desk = RunningDesk(
        post.judge,
        post.clock,
        Changes(),
        lambda: Health(ready=True, broker="", store=""),
        post.store.reader,
    )
    until_ms = post.clock.now + HOUR_MS
    place = next(iter(post.farm.places))

    async def recorded() -> tuple[bool, int, bool]:
        watching = Watching(
            post.judge, cast("Intake", StillIntake()), post.store, post.clock, lambda: None
        )
        running = asyncio.create_task(watching.run())
        begun = await asyncio.to_thread(desk.record, load(place, until_ms, "Ida", post.clock.now))
        held = len(desk.book().loadings)
        post.clock.now += 1000
        end = end_loading("elsewhere", "Ida", post.clock.now)
        ended = await asyncio.to_thread(desk.record, end)
        running.cancel()
        await asyncio.gather(running, return_exceptions=True)
        return bool(begun), held, bool(ended)

    assert asyncio.run(recorded()) == (True, 1, False)
    held = post.judge.state.plan.places[place].loadings
    assert [until for _, until in held] == [until_ms]
