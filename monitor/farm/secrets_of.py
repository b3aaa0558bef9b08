"""The farm's secrets: the broker's password and people's addresses, resolved."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from ipaddress import ip_address
from pathlib import Path
from urllib.parse import urlsplit

from pydantic import SecretStr

from monitor.farm.problem import Problem
from monitor.farm.secret import HIDDEN, SecretMissingError, is_reference, resolve
from monitor.farm.sheets import FARM, PEOPLE, Sheets


@dataclass
class Secrets:
    """What could be resolved, and the problems met."""

    password: SecretStr | None = None
    addresses: dict[str, tuple[SecretStr, ...]] = field(default_factory=dict)
    token: SecretStr | None = None
    watcher: dict[str, SecretStr] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    needed: bool = True

    def miss(self, file: str, key: str, failure: SecretMissingError) -> None:
        """Note a secret that leads nowhere, if that is a mistake here."""
        remedy = "set it where cormwatch runs, or name another with env:NAME or file:PATH"
        if self.needed:
            self.problems.append(Problem("error", file, key, HIDDEN, str(failure), remedy))


def resolve_all(
    sheets: Sheets, directory: Path, environ: Mapping[str, str], *, needed: bool = True
) -> Secrets:
    """Return the secrets that the files name or hold; missing ones are left out if not needed."""
    secrets = Secrets(needed=needed)
    if sheets.broker is not None and sheets.broker.password is not None:
        written = sheets.broker.password
        try:
            secrets.password = resolve(written, directory, environ)
        except SecretMissingError as failure:
            secrets.miss(FARM, "broker.password", failure)
        if not is_reference(written):
            secrets.problems.append(Problem(
                "warning", FARM, "broker.password", HIDDEN, "the password stands in the file",
                'keep it elsewhere: password = "env:CORMWATCH_BROKER_PASSWORD" or "file:PATH"',
            ))  # fmt: skip
    for entry in sheets.people:
        found = [
            _address(secrets, f"{entry.where}.addresses[{number}]", written, directory, environ)
            for number, written in enumerate(entry.form.addresses, start=1)
        ]
        secrets.addresses[entry.form.id] = tuple(each for each in found if each is not None)
    _of_watcher(secrets, sheets, directory, environ)
    _of_mirror(secrets, sheets, directory, environ)
    _told_if_others_read(secrets, sheets, directory)
    return secrets


def _of_watcher(
    secrets: Secrets, sheets: Sheets, directory: Path, environ: Mapping[str, str]
) -> None:
    form = sheets.watcher
    if form is None:
        return
    written = {"heartbeat_url": form.heartbeat_url, "secret": form.secret}
    if form.second is not None:
        written["second.secret"] = form.second.secret
    for key, text in written.items():
        if text is None:
            continue
        try:
            secrets.watcher[key] = resolve(text, directory, environ)
        except SecretMissingError as failure:
            secrets.miss(FARM, f"watcher.{key}", failure)
    _check_url(secrets)


def _of_mirror(
    secrets: Secrets, sheets: Sheets, directory: Path, environ: Mapping[str, str]
) -> None:
    form = sheets.mirror
    if form is None or form.token is None:
        return
    try:
        secrets.token = resolve(form.token, directory, environ)
    except SecretMissingError as failure:
        secrets.miss(FARM, "mirror.token", failure)
    if not is_reference(form.token):
        secrets.problems.append(Problem(
            "warning", FARM, "mirror.token", HIDDEN, "the token stands in the file",
            'keep it elsewhere: token = "file:secrets/mirror" or "env:NAME"',
        ))  # fmt: skip
    if form.url.startswith("http://") and not _near(form.url):
        secrets.problems.append(Problem(
            "warning", FARM, "mirror.url", HIDDEN, "the token goes over the network in clear",
            "use https://, or a tunnel of your own to the server",
        ))  # fmt: skip


def _check_url(secrets: Secrets) -> None:
    url = secrets.watcher.get("heartbeat_url")
    if url is None:
        return
    written = url.get_secret_value()
    if not re.fullmatch(r"https?://[^/\s]+(/\S*)?", written):
        secrets.problems.append(Problem(
            "error", FARM, "watcher.heartbeat_url", HIDDEN, "this is no address of the web",
            "it begins with https:// or http://, as https://example.org/beat",
        ))  # fmt: skip
    elif written.startswith("http://") and "secret" in secrets.watcher and not _near(written):
        secrets.problems.append(Problem(
            "warning", FARM, "watcher.heartbeat_url", HIDDEN,
            "the heartbeat and its secret go over the network in clear",
            "use https://, or a tunnel of your own to the second watcher",
        ))  # fmt: skip


def _near(url: str) -> bool:
    host = urlsplit(url).hostname or ""
    try:
        return ip_address(host).is_private
    except ValueError:
        return host == "localhost"


def _address(
    secrets: Secrets, key: str, written: str, directory: Path, environ: Mapping[str, str]
) -> SecretStr | None:
    try:
        found = resolve(written, directory, environ)
    except SecretMissingError as failure:
        secrets.miss(PEOPLE, key, failure)
        return SecretStr("")  # so that those after it keep their places
    if "://" not in found.get_secret_value():
        secrets.problems.append(Problem(
            "error", PEOPLE, key, HIDDEN, "this is no apprise address",
            "an address begins with its service, as mailtos:// for mail",
        ))  # fmt: skip
        return None
    return found


def _told_if_others_read(secrets: Secrets, sheets: Sheets, directory: Path) -> None:
    """Warn of an address that others on this computer could read in the file."""
    written = [each for entry in sheets.people for each in entry.form.addresses]
    path = directory / PEOPLE
    if all(is_reference(each) for each in written) or not path.stat().st_mode & 0o077:
        return
    secrets.problems.append(Problem(
        "warning", PEOPLE, "person", "", "the file holds addresses and others may read it",
        "chmod 600 people.toml, or keep them elsewhere with env:NAME or file:PATH",
    ))  # fmt: skip
