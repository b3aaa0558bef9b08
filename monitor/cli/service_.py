"""``cormwatch service``: run by the system's own service manager from now on."""

import argparse
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Final

from monitor.daemon.examining import is_watched
from monitor.errors import CormwatchError, FarmError
from monitor.farm import FILES, load
from monitor.resources import config_dir

UNIT: Final = "etc/systemd/system/cormwatch.service"
FARM: Final = "var/lib/cormwatch"
_PROGRAM: Final = "/opt/cormwatch/bin/cormwatch"
_HIDDEN: Final = ("/home", "/root", "/run/user")  # what ProtectHome keeps from the service
_COMMANDS: Final = (("systemctl", "daemon-reload"), ("systemctl", "enable", "--now", "cormwatch"))


def register(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of ``service``."""
    parser.add_argument(
        "--farm", type=Path, metavar="DIR",
        help=f"a farm's folder to take along to /{FARM}, where there is none yet",
    )  # fmt: skip
    parser.add_argument(
        "--root",
        type=Path,
        default=Path("/"),
        metavar="DIR",
        help="write below another folder, and start nothing: an image of a system",
    )
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Write the unit, take the farm along, and start it.

    Raises
    ------
    FarmError
        If there is no farm to watch, or the one named cannot be used.
    CormwatchError
        If the system's folders cannot be written, or the service does not start.
    """
    live = args.root == Path("/")
    program = _program(live=live)
    unit, farm = args.root / UNIT, args.root / FARM
    try:
        _take_along(args.farm, farm)
        unit.parent.mkdir(parents=True, exist_ok=True)
        text = (config_dir() / unit.name).read_text(encoding="utf-8")
        unit.write_text(text.replace(_PROGRAM, program), encoding="utf-8")
    except PermissionError as failure:
        raise CormwatchError(f"{failure.filename} cannot be written: run it with sudo") from failure
    print(f"{unit} runs {program} on the farm in {farm}.")
    if live:
        _start()
    return 0


def _program(*, live: bool) -> str:
    """Return the command to run, where the service may reach it."""
    program = Path(sys.executable).parent / "cormwatch"
    if live and str(program).startswith(_HIDDEN):
        raise CormwatchError(
            f"{program} lies in a home folder, which a service may not read: install the program "
            "into /opt/cormwatch first (README, As a service)"
        )
    return str(program)


def _take_along(source: Path | None, farm: Path) -> None:
    """Copy a farm's folder to where the service has it, unless one is there."""
    if (farm / FILES[0]).exists():
        if source is not None and source.resolve() != farm.resolve():
            raise FarmError(
                f"{farm} holds a farm already: leave --farm out to go on with it, or move it away"
            )
        return
    if source is None:
        raise FarmError(f"{farm} holds no farm: name yours with --farm DIR")
    if is_watched(load(source, secrets_needed=False)):
        raise FarmError(f"a monitor is watching {source}: stop it first (Ctrl-C), then try again")
    shutil.copytree(source, farm, dirs_exist_ok=True, ignore=shutil.ignore_patterns("*.lock"))
    farm.chmod(0o700)


def _start() -> None:
    for words in _COMMANDS:
        told = subprocess.run(words, capture_output=True, text=True, check=False)  # noqa: S603
        if told.returncode:
            raise CormwatchError(f"{' '.join(words)}: {told.stderr.strip() or told.returncode}")
    print("It runs, and starts with the computer. Its log: journalctl -u cormwatch")


__all__ = ["FARM", "UNIT", "run"]
