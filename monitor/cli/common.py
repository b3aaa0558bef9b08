"""What several commands share: the farm's folder, times, and output."""

import argparse
import json
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from monitor.errors import StoreError


def add_farm(parser: argparse.ArgumentParser) -> None:
    """Add ``--farm DIR``, which may stand anywhere after the verb."""
    parser.add_argument(
        "--farm", type=Path, default=argparse.SUPPRESS, metavar="DIR",
        help="the farm's folder (default: the working directory)",
    )  # fmt: skip


def add_json(parser: argparse.ArgumentParser) -> None:
    """Add ``--json``: JSON alone on standard output."""
    parser.add_argument("--json", action="store_true", help="print JSON alone")


def add_by(parser: argparse.ArgumentParser) -> None:
    """Add ``--by NAME``: who makes the entry."""
    name = os.environ.get("USER") or os.environ.get("LOGNAME") or "someone"
    parser.add_argument("--by", default=name, metavar="NAME", help="who says so")


def write_page(path: Path, text: str) -> None:
    """Write a page, or a drawing, to a file.

    Raises
    ------
    StoreError
        If the file cannot be written.
    """
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as failure:
        raise StoreError(
            f"{path} cannot be written: {failure.strerror}; name another file"
        ) from failure


def say_written(path: Path) -> str:
    """Return what to do with a page that was written."""
    return f"Written to {path}: open it in a browser, and print it from there."


def farm_dir(args: argparse.Namespace) -> Path:
    """Return the farm's folder named on the command line, else the working directory."""
    folder: Path = getattr(args, "farm", None) or Path()
    return folder


def print_json(rows: Sequence[Any] | dict[str, Any]) -> None:
    """Print JSON with no infinite or missing number in disguise."""
    print(json.dumps(rows, ensure_ascii=False, allow_nan=False, indent=1))
