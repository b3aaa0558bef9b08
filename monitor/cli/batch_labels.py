"""``cormwatch batch labels``: labels for crates, as a sheet or a single code."""

import argparse

from monitor.batches import open_batches
from monitor.batches.counts import parse_batch_id
from monitor.cli.batch_desk import Desk
from monitor.cli.common import say_written, write_page
from monitor.errors import LedgerRuleError
from monitor.report.labels import label, label_svg, labels_html


def print_labels(desk: Desk, args: argparse.Namespace) -> int:
    """Write the labels of one batch, or of each that is here."""
    words = " ".join(args.batch)
    batch = desk.batch(parse_batch_id(words)) if words else None
    if args.svg is None:
        batches = list(open_batches(desk.book())) if batch is None else [batch]
        page = labels_html(desk.farm, batches, desk.now_ms, copies=args.copies)
        write_page(args.html, page)
        print(say_written(args.html))
        return 0
    if batch is None:
        raise LedgerRuleError("--svg holds one code: say which batch, as cormwatch batch labels 14")
    write_page(args.svg, label_svg(label(desk.farm, batch, desk.now_ms)))
    print(f"Written to {args.svg}: it opens {label(desk.farm, batch, desk.now_ms).address}")
    return 0
