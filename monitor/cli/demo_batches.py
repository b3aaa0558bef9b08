"""The demo farm's batches, recorded with the command a grower would use.

Cultivars, suppliers and orders are made up.
"""

import contextlib
import io
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

from monitor.errors import CormwatchError

_HOUR_MS: Final = 3_600_000
_DAY_H: Final = 24

# Days before now, and the words of one ``cormwatch batch`` command.
STORY: Final[Sequence[tuple[float, str]]] = (
    (20.6, ("add|--crop|ranunculus|--cultivar|Copper Lantern|--place|tunnel-1|--stage|bloom"
           "|--count|420|--supplier|Hollow Oak Corms|--lot|H-118|--by|robin")),
    (16.2, ("add|--crop|ranunculus|--cultivar|Pale Ferry|--place|sprouting-room"
           "|--stage|pre-sprout|--count|about 600|--supplier|Hollow Oak Corms|--lot|H-131"
           "|--received|640|--rotten|31|--by|robin")),
    (11.1, ("add|--crop|ranunculus|--cultivar|Plum Signal|--place|sprouting-room"
           "|--stage|pre-sprout|--count|480|--supplier|Two Gates Bulbs|--received|500"
           "|--rotten|12|--by|alex")),
    (10.0, "observe|2|--all-fine|--by|robin"),
    (7.0, "observe|2|--roots|9 of 25|--by|alex"),
    (5.2, "observe|3|--all-fine|--by|alex"),
    (4.1, "observe|2|--roots|22 of 25|--by|robin"),
    (3.9, "move|2|--to|tunnel-2|--stage|just-planted|--by|robin"),
    (2.9, "harvest|1|--stems|360|--to|walk-in-cooler|--by|robin"),
    (2.0, "observe|3|--roots|6|9|12|14|15|17|18|21|22|24|mm|--by|alex"),
    (1.8, "harvest|1|--stems|280|--to|walk-in-cooler|--into|4|--by|alex"),
    (1.1, "observe|4|--held-for|the Saturday wedding|--stems|120|--by|robin"),
    (0.9, "out|4|--sold|12|--bunches-of|10|--to|Market Street florist|--by|alex"),
)  # fmt: skip


def record(folder: Path, zone: ZoneInfo, now_ms: int) -> None:
    """Write the story into a farm's ledger, each entry at its own time.

    Raises
    ------
    CormwatchError
        If an entry is refused: the story no longer fits the starter farm.
    """
    from monitor.cli import main  # noqa: PLC0415 - the commands register themselves there

    for days, words in STORY:
        at_ms = now_ms - round(days * _DAY_H * _HOUR_MS)
        when = datetime.fromtimestamp(at_ms / 1000, zone).isoformat(timespec="minutes")
        said = io.StringIO()
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
            code = main(["batch", *words.split("|"), "--at", when, "--farm", str(folder)])
        if code:
            raise CormwatchError(f"the demo's batches do not fit its farm: {said.getvalue()}")
