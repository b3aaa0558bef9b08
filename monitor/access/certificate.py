"""A certificate of the farm's own, and the local authority that a phone trusts once.

The authority may speak for names of the farm's network and private addresses alone (name
constraints): whoever steals its key cannot pose as any other site to the phones that trust
it. ``cryptography`` is large, so only the command that makes certificates imports this.

References
----------
RFC 5280, sections 4.2.1.9 (basic constraints) and 4.2.1.10 (name constraints). A phone takes
no certificate of more than 825 days from an authority that its owner added (from memory).
"""

import socket
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from ipaddress import IPv4Address, IPv6Address, ip_address, ip_network
from pathlib import Path
from typing import Final

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from monitor.access.authority import AUTHORITY, AUTHORITY_KEY, CERTIFICATE, KEY
from monitor.access.private_file import write_private
from monitor.errors import FarmError

AUTHORITY_DAYS: Final = 3650
HOST_DAYS: Final = 397
_LOCAL: Final = ("localhost", "local", "lan", "home.arpa", "internal")
_PRIVATE: Final = (
    "127.0.0.0/8", "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16",
    "::1/128", "fc00::/7", "fe80::/10",
)  # fmt: skip
Address = IPv4Address | IPv6Address


@dataclass(frozen=True, slots=True)
class Made:
    """What was made: the names it is good for, when it ends, the authority's fingerprint."""

    names: tuple[str, ...]
    ends: datetime
    fingerprint: str
    new_authority: bool


def own_names() -> list[str]:
    """Return the names and addresses by which this computer is probably reached.

    A name that is none is left out, and a public address too: lines change theirs, and the
    authority, made once, may not speak for the next. Who wants one asks for it by name.
    """
    name = socket.gethostname().lower().split(".")[0]
    found = ["localhost", "127.0.0.1", "::1", *([f"{name}.local"] if _is_name(name) else [])]
    for family, far in ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1")):
        with socket.socket(family, socket.SOCK_DGRAM) as door:
            try:
                door.connect((far, 9))  # nothing is sent: it only chooses a road
                address = ip_address(door.getsockname()[0].partition("%")[0])
            except OSError:
                continue
        if any(_within(each, address) for each in _PRIVATE):
            found.append(str(address))
    return list(dict.fromkeys(found))


def _is_name(text: str) -> bool:
    return bool(text) and set(text) <= _LETTERS


def _within(network: str, address: Address) -> bool:
    known = ip_network(network)
    return known.version == address.version and address in known


def make(directory: Path, names: Iterable[str], now: datetime, *, anew: bool = False) -> Made:
    """Make a certificate for names and addresses, and the authority where there is none yet.

    Parameters
    ----------
    directory : Path
        The farm's folder; all is written below its ``secrets``, for its owner only.
    names : iterable of str
        Host names and addresses.
    now : datetime
        Now, in UTC.
    anew : bool
        Whether to make another authority too, which each phone then has to trust.

    Raises
    ------
    FarmError
        If a name is none, the authority may not speak for it, or a file fails.
    """
    wanted = _read_names(names)
    old = None if anew else _kept(directory, now)
    authority, key = old or _new_authority(wanted, now)
    _refuse_foreign(authority, wanted)
    own = ec.generate_private_key(ec.SECP256R1())
    ends = min(now + timedelta(days=HOST_DAYS), authority.not_valid_after_utc)
    certificate = (
        _begun("Cormwatch pages", authority.subject, own.public_key(), now, ends)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.SubjectAlternativeName(_alternatives(wanted)), critical=False)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(key.public_key()), critical=False
        )
        .sign(key, hashes.SHA256())
    )
    if old is None:
        write_private(directory / AUTHORITY_KEY, _private(key))
        write_private(directory / AUTHORITY, _public(authority))
    write_private(directory / KEY, _private(own))
    write_private(directory / CERTIFICATE, _public(certificate))
    shown = authority.fingerprint(hashes.SHA256()).hex(":").upper()
    return Made(tuple(str(each) for each in wanted), ends, shown, old is None)


def _read_names(names: Iterable[str]) -> list[str | Address]:
    found: dict[str | Address, None] = {}
    for each in names:
        try:
            found[ip_address(each)] = None
        except ValueError:
            if not _is_name(each):
                raise FarmError(f"{each!r} is no host name or address: as barn.local") from None
            found[each.lower()] = None
    return list(found)


_LETTERS: Final = frozenset("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_.")
"""An underscore is no letter of a host's name by RFC 1123, yet computers are called so."""


def _new_authority(
    names: Sequence[str | Address], now: datetime
) -> tuple[x509.Certificate, ec.EllipticCurvePrivateKey]:
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([
        x509.NameAttribute(NameOID.COMMON_NAME, f"Cormwatch of this farm, {now:%Y-%m-%d}"),
    ])  # fmt: skip
    ends = now + timedelta(days=AUTHORITY_DAYS)
    permitted: list[x509.GeneralName] = [x509.DNSName(each) for each in _LOCAL]
    permitted += [x509.IPAddress(ip_network(each)) for each in _PRIVATE]
    for name in names:
        if not _covered(permitted, name):
            permitted.append(
                x509.DNSName(name) if isinstance(name, str) else x509.IPAddress(ip_network(name))
            )
    certificate = (
        _begun("", subject, key.public_key(), now, ends)
        .subject_name(subject)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .add_extension(x509.NameConstraints(permitted, None), critical=True)
        .sign(key, hashes.SHA256())
    )
    return certificate, key


def _begun(
    name: str, issuer: x509.Name, key: ec.EllipticCurvePublicKey, now: datetime, ends: datetime
) -> x509.CertificateBuilder:
    """Return a certificate as both kinds begin; good from yesterday, since clocks differ."""
    begun = (
        x509.CertificateBuilder()
        .issuer_name(issuer)
        .public_key(key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(ends)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key), critical=False)
    )
    if not name:
        return begun
    return begun.subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)]))


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates, content_commitment=False,
        key_encipherment=False, data_encipherment=False, key_agreement=False,
        key_cert_sign=signs_certificates, crl_sign=signs_certificates,
        encipher_only=False, decipher_only=False,
    )  # fmt: skip


def _alternatives(names: Iterable[str | Address]) -> list[x509.GeneralName]:
    return [x509.DNSName(e) if isinstance(e, str) else x509.IPAddress(e) for e in names]


def _covered(permitted: Iterable[x509.GeneralName], name: str | Address) -> bool:
    """Return whether an authority that is permitted this much may speak for a name."""
    for each in permitted:
        if isinstance(each, x509.DNSName) and isinstance(name, str):
            if name == each.value or name.endswith(f".{each.value}"):
                return True
        elif isinstance(each, x509.IPAddress) and not isinstance(name, str):
            network = ip_network(str(each.value))
            if name.version == network.version and name in network:
                return True
    return False


def _refuse_foreign(authority: x509.Certificate, names: Iterable[str | Address]) -> None:
    limits = authority.extensions.get_extension_for_class(x509.NameConstraints).value
    permitted = limits.permitted_subtrees or []
    for name in names:
        if not _covered(permitted, name):
            raise FarmError(
                f"the farm's authority may not speak for {name}: make another with "
                "--new-authority, which each phone then has to trust anew"
            )


def _kept(
    directory: Path, now: datetime
) -> tuple[x509.Certificate, ec.EllipticCurvePrivateKey] | None:
    """Return the authority that was made before, None where there is none or it has ended."""
    if not (directory / AUTHORITY_KEY).exists():
        return None
    try:
        certificate = x509.load_pem_x509_certificate((directory / AUTHORITY).read_bytes())
        key = serialization.load_pem_private_key((directory / AUTHORITY_KEY).read_bytes(), None)
    except (OSError, ValueError) as failure:
        raise FarmError(
            f"the authority in {directory / AUTHORITY} cannot be read: make another with "
            "--new-authority, which each phone then has to trust anew"
        ) from failure
    if not isinstance(key, ec.EllipticCurvePrivateKey):
        raise FarmError(f"{directory / AUTHORITY_KEY} is no key of ours: use --new-authority")
    return (certificate, key) if certificate.not_valid_after_utc > now else None


def _private(key: ec.EllipticCurvePrivateKey) -> str:
    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    ).decode()


def _public(certificate: x509.Certificate) -> str:
    return certificate.public_bytes(serialization.Encoding.PEM).decode()
