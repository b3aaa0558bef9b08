"""The pages: where they listen, and whether what is sent there is encrypted."""

from collections.abc import Iterator
from ipaddress import ip_address
from pathlib import Path

from monitor.farm.blame import show
from monitor.farm.forms import PagesForm
from monitor.farm.problem import Problem
from monitor.farm.sheets import FARM


def problems(form: PagesForm, directory: Path) -> Iterator[Problem]:
    """Yield what is wrong or doubtful with how the pages are served."""
    if (form.certificate is None) != (form.key is None):
        yield Problem(
            "error", FARM, "pages", "", "a certificate needs its key, and a key it",
            "give both certificate and key, or neither",
        )  # fmt: skip
    for name in ("certificate", "key"):
        yield from missing(getattr(form, name), f"pages.{name}", directory)
    host = form.listen.rpartition(":")[0].strip("[]")
    if form.certificate is None and not loopback(host):
        yield Problem(
            "warning", FARM, "pages.listen", show(form.listen),
            "the pages are open to the network, and what is sent, passwords too, is not encrypted",
            "make a certificate of your own: cormwatch certificate",
        )  # fmt: skip


def missing(file: str | None, key: str, directory: Path) -> Iterator[Problem]:
    """Yield a problem where a file that a key names is not there."""
    if file is not None and not (directory / Path(file).expanduser()).is_file():
        yield Problem(
            "error", FARM, key, show(file), "there is no such file",
            f"name it by its whole path, or from {directory}",
        )  # fmt: skip


def loopback(host: str) -> bool:
    """Return whether a host is this computer alone."""
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"
