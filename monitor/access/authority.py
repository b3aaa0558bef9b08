"""Where the farm's certificates are, and when one ends: without a large library."""

import re
import ssl
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

AUTHORITY: Final = "secrets/authority.crt"
AUTHORITY_KEY: Final = "secrets/authority.key"
CERTIFICATE: Final = "secrets/pages.crt"
KEY: Final = "secrets/pages.key"
WARNED_DAYS: Final = 30
_VALIDITY: Final = re.compile(rb"\x30\x1e\x17\x0d\d{12}Z\x17\x0d(\d{12})Z")
_BEGIN: Final = "-----BEGIN CERTIFICATE-----"
_END: Final = "-----END CERTIFICATE-----"


def ends_at(certificate: Path) -> datetime | None:
    """Return when a certificate ends (RFC 5280, 4.1.2.5: two times, as UTCTime), or None."""
    try:
        _, begin, rest = certificate.read_text(encoding="utf-8").partition(_BEGIN)
        first, end, _ = rest.partition(_END)
        found = _VALIDITY.search(ssl.PEM_cert_to_DER_cert(f"{begin}{first}{end}"))
    except (OSError, ValueError):
        return None
    if found is None:
        return None
    return datetime.strptime(found[1].decode(), "%y%m%d%H%M%S").replace(tzinfo=UTC)


def ending(certificate: Path | None, now: datetime) -> str:
    """Return a sentence where a certificate ends soon, or has ended; else ``""``."""
    ends = None if certificate is None else ends_at(certificate)
    if ends is None or (ends - now).days >= WARNED_DAYS:
        return ""
    when = "has ended" if ends <= now else f"ends on {ends:%d %B %Y}"
    return f"The certificate of the pages {when}: run cormwatch certificate."
