"""One table of what is to be reached, what was measured, and what stood beside it."""

import os
import platform
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

HEAD: Final = ("what", "reach", "measured", "reference in the same run")


@dataclass(frozen=True, slots=True)
class Row:
    """One number to reach; ``reached`` is None where the row only stands beside another."""

    what: str
    reach: str
    measured: str
    reference: str
    reached: bool | None


def machine() -> str:
    """Return what this was measured on, and how busy it was."""
    load = ", ".join(f"{each:.1f}" for each in os.getloadavg())
    return (
        f"{os.cpu_count()} cores ({_processor()}), {platform.system()} {platform.release()}, "
        f"Python {platform.python_version()}; load {load} (1, 5, 15 min)"
    )


def _processor() -> str:
    try:
        with open("/proc/cpuinfo", encoding="utf-8") as file:  # noqa: PTH123 - no path of ours
            names = [line.partition(":")[2].strip() for line in file if "model name" in line]
    except OSError:
        names = []
    return names[0] if names else platform.machine()


def printed(rows: Iterable[Row]) -> str:
    """Return the rows as a table in plain text."""
    told = {True: "reached", False: "NOT REACHED", None: ""}
    lines = [(*HEAD, "")]
    lines += [(r.what, r.reach, r.measured, r.reference, told[r.reached]) for r in rows]
    widths = [max(len(line[k]) for line in lines) for k in range(len(HEAD) + 1)]
    texts = [
        "  ".join(text.ljust(width) for text, width in zip(line, widths, strict=True)).rstrip()
        for line in lines
    ]
    return "\n".join([texts[0], "-" * max(map(len, texts)), *texts[1:]])
