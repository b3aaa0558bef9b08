"""Notices to phones and mailboxes, by apprise, from the outbox."""

from monitor.courier.courier import Addresses, Courier, addresses_of, marks_of
from monitor.courier.transport import AppriseTransport, Result, Transport
from monitor.courier.wording import Limits, Part

__all__ = [
    "Addresses", "AppriseTransport", "Courier", "Limits", "Part", "Result", "Transport",
    "addresses_of", "marks_of",
]  # fmt: skip
