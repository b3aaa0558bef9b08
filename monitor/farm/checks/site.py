"""The farm as a whole: its time zone and position, its broker and its pages."""

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo, available_timezones

from monitor.farm.blame import show
from monitor.farm.checks import pages
from monitor.farm.checks.pages import loopback, missing
from monitor.farm.forms import BrokerForm, FarmForm, TlsForm
from monitor.farm.naming import nearest
from monitor.farm.problem import Problem
from monitor.farm.sheets import FARM, Sheets

_DEGREES_AN_HOUR: Final = 15.0
_FARTHEST_H: Final = 3.5  # China's one zone is three hours and more from its west


def zone_of(form: FarmForm | None) -> ZoneInfo | None:
    """Return the time zone that a farm names, or None if there is none of that name."""
    if form is None:
        return None
    try:
        return ZoneInfo(form.time_zone)
    except (ValueError, OSError, LookupError):
        return None


def problems(sheets: Sheets, directory: Path) -> Iterator[Problem]:
    """Yield what is wrong with the farm, its broker and its pages."""
    if sheets.farm is not None:
        yield from _zone(sheets.farm)
    if sheets.broker is not None:
        yield from _broker(sheets.broker)
        if sheets.broker.tls is not None:
            yield from _tls(sheets.broker.tls, directory)
    if sheets.pages is not None:
        yield from pages.problems(sheets.pages, directory)
    thins = sheets.history is not None and sheets.history.thin_after_months is not None
    if thins and not {"backup", "mirror"} & sheets.raw[FARM].keys():
        yield Problem(
            "error", FARM, "history.thin_after_months", "",
            "only what is safe elsewhere is thinned, and nothing is copied anywhere",
            "add [backup] or [mirror]",
        )  # fmt: skip


def _zone(form: FarmForm) -> Iterator[Problem]:
    zone, key = zone_of(form), "farm.time_zone"
    if zone is None:
        near = nearest(form.time_zone, available_timezones())
        hint = f"did you mean {near}? " if near else ""
        yield Problem(
            "error", FARM, key, show(form.time_zone), "there is no such time zone",
            f"{hint}write it as America/Denver or Europe/Lisbon",
        )  # fmt: skip
        return
    winter = datetime(2024, 1, 15, tzinfo=zone).utcoffset()
    summer = datetime(2024, 7, 15, tzinfo=zone).utcoffset()
    hours = min(each.total_seconds() / 3600 for each in (winter, summer) if each is not None)
    off = abs((hours - form.longitude / _DEGREES_AN_HOUR + 12) % 24 - 12)
    if off > _FARTHEST_H:
        yield Problem(
            "warning", FARM, "farm.longitude", show(form.longitude),
            f"the position is far from where {form.time_zone} is kept",
            "correct one of them; west of Greenwich a longitude is negative",
        )  # fmt: skip


def _broker(form: BrokerForm) -> Iterator[Problem]:
    if form.host.count(":") == 1:
        host, _, port = form.host.partition(":")
        yield Problem(
            "error", FARM, "broker.host", show(form.host), "the host holds a port too",
            f'write host = "{host}" and port = {port or 1883}',
        )  # fmt: skip
    if form.password is not None and form.user is None:
        yield Problem(
            "error", FARM, "broker.user", "", "there is a password and no user",
            'add user = "…"',
        )  # fmt: skip
    if form.embedded and not loopback(form.host):
        yield Problem(
            "error", FARM, "broker.host", show(form.host),
            "the embedded broker runs on this computer only",
            'write host = "127.0.0.1", or embedded = false for a broker elsewhere',
        )  # fmt: skip
    if form.password is not None and form.tls is None and not loopback(form.host):
        yield Problem(
            "warning", FARM, "broker.tls", "", "the password goes over the network in clear",
            "add [broker.tls] with ca_file, and the broker's TLS port (often 8883)",
        )  # fmt: skip


def _tls(form: TlsForm, directory: Path) -> Iterator[Problem]:
    for name in ("ca_file", "cert_file", "key_file"):
        yield from missing(getattr(form, name), f"broker.tls.{name}", directory)
    if (form.cert_file is None) != (form.key_file is None):
        yield Problem(
            "error", FARM, "broker.tls", "", "a client certificate needs its key, and a key it",
            "give both cert_file and key_file, or neither",
        )  # fmt: skip
    if not form.check_host:
        yield Problem(
            "warning", FARM, "broker.tls.check_host", "false",
            "whoever holds any certificate of this authority can pose as the broker",
            "give the broker a certificate of its host name and leave this out",
        )  # fmt: skip
