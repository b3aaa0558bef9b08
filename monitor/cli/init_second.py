"""``cormwatch init DIR --second``: write the folder of a second watcher."""

import argparse
import os
import secrets
from collections.abc import Callable

from monitor.farm.starting import Start, write_starter

LISTEN = "127.0.0.1:8585"
_NEXT = """\
{folder} is a second watcher's folder now: on another computer than the farm's,
  put addresses into {folder}/people.toml, then  cormwatch run --second --farm {folder}
On the farm, copy {folder}/secrets/heartbeat to secrets/heartbeat, and add to farm.toml:
  [watcher]
  heartbeat_url = "https://WHERE-IT-IS/beat"
  secret = "file:secrets/heartbeat\""""


def add_second(add: Callable[..., object]) -> None:
    """Add ``--second HOST:PORT``."""
    add(
        "--second", nargs="?", const=LISTEN, metavar="HOST:PORT",
        help=f"a second watcher's folder instead, listening there ({LISTEN})",
    )  # fmt: skip


def write(args: argparse.Namespace) -> int:
    """Write it, with a secret of its own, and say what comes next."""
    start = Start(name=args.name, second=args.second, secret=secrets.token_urlsafe(32))
    write_starter(args.folder, start, os.environ)
    print(_NEXT.format(folder=args.folder))
    return 0
