"""``cormwatch certificate``: a certificate of the farm's own for the pages."""

import argparse
from datetime import UTC, datetime
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from monitor.access.authority import AUTHORITY, CERTIFICATE, KEY
from monitor.cli.common import add_farm, add_json, print_json
from monitor.cli.opening import load_farm
from monitor.clock import SystemClock
from monitor.farm import Farm
from monitor.units import iso_utc

if TYPE_CHECKING:
    from monitor.access.certificate import Made

_TRUST = """\
On each phone, once:
  1. open {address}/authority.crt there, and compare this fingerprint before you trust it:
     {fingerprint}
  2. iPhone: Settings, Profile Downloaded, Install; then General, About, Certificate Trust
     Settings, switch it on. Android: Settings, search for "CA certificate", Install anyway.
It may speak for the farm's own names and private addresses alone. Keep secrets/authority.key
on this computer: whoever has it can pose as these pages."""


def register(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of ``certificate``."""
    add_farm(parser)
    add_json(parser)
    parser.add_argument(
        "--name", action="append", default=[], metavar="NAME",
        help="a further host name or address by which the pages are reached",
    )  # fmt: skip
    parser.add_argument(
        "--new-authority", action="store_true",
        help="make another authority too: each phone has to trust it anew",
    )  # fmt: skip
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Make or renew the certificate; a running monitor takes it up within a minute."""
    from monitor.access import certificate  # noqa: PLC0415 - large, and this command's alone

    farm = load_farm(args)
    names = [*certificate.own_names(), *_configured(farm), *args.name]
    now = datetime.fromtimestamp(SystemClock().now_ms() / 1000, UTC)
    made = certificate.make(farm.directory, names, now, anew=args.new_authority)
    ends = iso_utc(int(made.ends.timestamp() * 1000))
    if args.json:
        print_json({
            "certificate": CERTIFICATE, "key": KEY, "authority": AUTHORITY, "ends_at": ends,
            "names": list(made.names), "fingerprint": made.fingerprint,
            "new_authority": made.new_authority,
        })  # fmt: skip
        return 0
    print(f"{farm.directory / CERTIFICATE} is good for {', '.join(made.names)} until {ends}.")
    if farm.web.certificate is None:
        print("Add to farm.toml, under [pages], and start the monitor anew:")
        print(f'  certificate = "{CERTIFICATE}"\n  key = "{KEY}"')
    if made.new_authority:
        print(say_trust(made, farm.web.port))
    return 0


def say_trust(made: "Made", port: int) -> str:
    """Return how a phone comes to trust a new authority."""
    far = far_names(made)
    address = address_at(far[-1] if far else "THIS-COMPUTER", port)
    return _TRUST.format(address=address, fingerprint=made.fingerprint)


def far_names(made: "Made") -> list[str]:
    """Return by what a certificate lets others reach this computer; phones are told the last."""
    return [each for each in made.names if each not in {"localhost", "127.0.0.1", "::1"}]


def address_at(host: str, port: int) -> str:
    """Return where the pages are: ``"https://barn.local:8484"``."""
    return f"https://[{host}]:{port}" if ":" in host else f"https://{host}:{port}"


def _configured(farm: Farm) -> list[str]:
    own = urlsplit(farm.web.base_url).hostname if farm.web.base_url else None
    return [*farm.web.hosts, *([own] if own else [])]
