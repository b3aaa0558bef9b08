"""A table for people, and how it is printed on a page or in a terminal."""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Table:
    """A titled table; ``numbers`` are the columns set to the right."""

    title: str
    head: Sequence[str]
    rows: Sequence[Sequence[str]]
    numbers: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Sheet:
    """A page of tables with a line under its title and notes at its foot."""

    title: str
    line: str
    farm: str
    tables: Sequence[Table]
    notes: Sequence[str]
    cautions: str


def lines_of(table: Table) -> list[str]:
    """Return a table as lines of text, columns under each other."""
    cells = [list(table.head), *[list(row) for row in table.rows]]
    widths = [max(len(row[k]) for row in cells) for k in range(len(table.head))]
    lines = [
        "  ".join(
            cell.rjust(width) if k in table.numbers else cell.ljust(width)
            for k, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in cells
    ]
    return [table.title, *lines] if table.title else lines
