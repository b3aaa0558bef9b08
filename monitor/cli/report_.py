"""``cormwatch report``: what a batch has lived through, and what that advises.

``report BATCH`` is one batch; ``report compare BATCH`` lays it beside the crop's earlier
ones; ``report year [YEAR]`` is the sheet one reorders from.
"""

import argparse
import csv
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from monitor.batches.counts import parse_batch_id
from monitor.batches.site import COVERS
from monitor.cli.common import add_farm, add_json, print_json, say_written, write_page
from monitor.cli.opening import load_farm, open_ledger
from monitor.clock import SystemClock
from monitor.daemon.survey import open_reader
from monitor.errors import UnitError
from monitor.farm import find_place, parse_when
from monitor.report.asking import Asked
from monitor.report.comparing import COMPARED, compare, comparison_json, say_comparison
from monitor.report.exporting import cell
from monitor.report.listing import report_json
from monitor.report.making import Sources, make_report
from monitor.report.page import report_html, table_html
from monitor.report.sheet import COLUMNS, report_rows
from monitor.report.telling import say_report
from monitor.report.year import YEARLY, say_year, year_json, year_rows, year_sheet
from monitor.units import parse_temperature_c


def register(parser: argparse.ArgumentParser) -> None:
    """Add what ``report`` takes."""
    parser.add_argument(
        "what", nargs="+", metavar="BATCH",
        help="its number, as 14; or: compare BATCH; or: year [YEAR]",
    )  # fmt: skip
    add_farm(parser)
    add_json(parser)
    parser.add_argument("--csv", action="store_true", help="print CSV")
    parser.add_argument("--html", type=Path, metavar="FILE", help="write a page that prints well")
    parser.add_argument("--for", dest="wanted", metavar="WHEN", help="stems: good for this time?")
    parser.add_argument("--to", metavar="PLACE", help="where it would be planted, or carried")
    parser.add_argument("--low", metavar="TEMP", help="tonight's low by a forecast, as 28F")
    parser.add_argument("--heat", metavar="TEMP", help="the coming days' high by a forecast")
    parser.add_argument("--cover", choices=list(COVERS), help="what lies over the beds there")
    parser.set_defaults(run=run)


@contextmanager
def _open(args: argparse.Namespace) -> Iterator[Sources]:
    farm = load_farm(args)
    with closing(open_ledger(farm)) as ledger, closing(open_reader(farm)) as reader:
        yield Sources(farm, ledger, reader, SystemClock().now_ms())


def run(args: argparse.Namespace) -> int:
    """Tell what was asked for."""
    first = args.what[0].casefold()
    words = args.what[1:]
    with _open(args) as sources:
        if first == "year":
            return _year(sources, args, words)
        if first == "compare":
            return _compare(sources, args, " ".join(words))
        return _batch(sources, args, " ".join(args.what))


def _degrees(text: str | None) -> float | None:
    return None if text is None else parse_temperature_c(text)


def _asked(sources: Sources, args: argparse.Namespace) -> Asked:
    farm, now_ms = sources.farm, sources.now_ms
    return Asked(
        for_ms=args.wanted and parse_when(args.wanted, farm.zone, now_ms, future=True),
        to=None if args.to is None else find_place(farm, args.to),
        low_c=_degrees(args.low),
        heat_c=_degrees(args.heat),
        cover=args.cover,
    )


def _batch(sources: Sources, args: argparse.Namespace, text: str) -> int:
    asked = _asked(sources, args)
    report = make_report(sources, parse_batch_id(text), asked)
    _tell(
        args,
        json=lambda: report_json(report),
        rows=lambda: (COLUMNS, report_rows(report)),
        html=lambda: report_html(report),
        lines=lambda: say_report(report),
    )
    return 0


def _compare(sources: Sources, args: argparse.Namespace, text: str) -> int:
    found = compare(sources, parse_batch_id(text))
    _tell(
        args,
        json=lambda: comparison_json(found),
        rows=lambda: (COMPARED, found.rows()),
        html=lambda: table_html(found.page()),
        lines=lambda: say_comparison(found),
    )
    return 0


def _year(sources: Sources, args: argparse.Namespace, words: list[str]) -> int:
    if len(words) > 1 or (words and not (words[0].isascii() and words[0].isdigit())):
        raise UnitError(f"{' '.join(words)!r} is no year: write it as 2026")
    year = int(words[0]) if words else None
    sheet = year_sheet(sources, year)
    _tell(
        args,
        json=lambda: year_json(sheet),
        rows=lambda: (YEARLY, year_rows(sheet)),
        html=lambda: table_html(sheet.page()),
        lines=lambda: say_year(sheet),
    )
    return 0


def _tell(
    args: argparse.Namespace,
    *,
    json: Callable[[], dict[str, object]],
    rows: Callable[[], tuple[Iterable[str], Iterable[Iterable[str]]]],
    html: Callable[[], str],
    lines: Callable[[], list[str]],
) -> None:
    """Print in the form asked for, and write the page where one is wanted."""
    if args.html is not None:
        write_page(args.html, html())
    if args.json:
        print_json(json())
    elif args.csv:
        head, body = rows()
        table = csv.writer(sys.stdout, lineterminator="\n")
        table.writerow(head)
        table.writerows([cell(each) for each in row] for row in body)
    elif args.html is not None:
        print(say_written(args.html))
    else:
        print("\n".join(lines()))
