"""Finds the files that travel with the program, installed or in a checkout."""

from pathlib import Path

_HERE = Path(__file__).resolve().parent


def _folder(name: str) -> Path:
    installed = _HERE / f"_{name}"
    return installed if installed.is_dir() else _HERE.parent / name


def config_dir() -> Path:
    """Return the folder of the starter farm and the service files."""
    return _folder("config")


def dashboards_dir() -> Path:
    """Return the folder of templates, style, scripts and the chart library."""
    return _folder("dashboards")
