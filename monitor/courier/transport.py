"""The way out: apprise, imported when the first message goes and not before."""

import logging
import warnings
from functools import cache
from typing import TYPE_CHECKING, Any, Final, NamedTuple, Protocol

from pydantic import SecretStr

from monitor.courier.secrecy import redacted
from monitor.courier.wording import Limits, Part

if TYPE_CHECKING:
    import apprise

NO_ADDRESS: Final = (
    "no address matched: this is no address the program can send to; mend it in people.toml"
)
_IN_ONE: Final = frozenset({
    "mailto", "mailtos", "ntfy", "ntfys", "pover", "json", "jsons", "form", "forms", "xml", "xmls",
    "signal", "signals",
})  # fmt: skip
"""Services that apprise sends text and one picture to in one request (its source, 2.3.0)."""
_NO_LIMITS: Final = Limits(1000, 100)


class Result(NamedTuple):
    """What came of one message: sent, or why not.

    ``refused`` says that the service was reached and did not take it, so that a plainer
    text may do better.
    """

    sent: bool
    error: str = ""
    refused: bool = False


SENT: Final = Result(sent=True)


def failed(error: str, *, refused: bool = False) -> Result:
    """Return what came of a message that did not go."""
    return Result(sent=False, error=error, refused=refused)


class Transport(Protocol):
    """What hands one message to one address."""

    def usable(self, address: SecretStr) -> bool:
        """Return whether anything can be sent to an address of this form."""

    def limits(self, address: SecretStr) -> Limits:
        """Return how long title and body may be."""

    def takes_both(self, address: SecretStr) -> bool:
        """Return whether text and picture go in one request: both arrive, or neither does."""

    def send(self, address: SecretStr, part: Part, picture: bytes | None = None) -> Result:
        """Hand over one message, with a PNG where there is one; blocks."""


class AppriseTransport:
    """Sends by apprise, to whatever service the address names."""

    def usable(self, address: SecretStr) -> bool:
        """Return whether apprise knows the service that the address names."""
        return _service(address) is not None

    def limits(self, address: SecretStr) -> Limits:
        """Return how long title and body may be at the address's service."""
        service = _service(address)
        if service is None:
            return _NO_LIMITS
        return Limits(int(service.body_maxlen), int(service.title_maxlen))

    def takes_both(self, address: SecretStr) -> bool:
        """Return whether apprise sends text and one picture to it in one request."""
        return address.get_secret_value().partition("://")[0].casefold() in _IN_ONE

    def send(self, address: SecretStr, part: Part, picture: bytes | None = None) -> Result:
        """Hand over one message as plain text, and a picture where the service takes one."""
        service = _service(address)
        if service is None:
            return failed(NO_ADDRESS)
        import apprise  # noqa: PLC0415 - some 25 MB that a quiet farm never needs

        sender = apprise.Apprise(asset=service.asset)
        sender.add(service)
        outcome = sender.notify(
            body=part.body or part.title,
            title=part.title if part.body else "",
            body_format=apprise.NotifyFormat.TEXT,
            attach=None if picture is None else _attached(picture),
        )
        if outcome:
            return SENT
        return _failed(outcome, address)


def _attached(picture: bytes) -> "apprise.AppriseAttachment":
    """Return a picture as apprise takes it: from memory, no file is written."""
    from apprise import AppriseAttachment  # noqa: PLC0415 - see above
    from apprise.attachment.memory import AttachMemory  # noqa: PLC0415 - see above

    untyped: Any = AttachMemory
    return AppriseAttachment(untyped(content=picture, name="last-hours.png", mimetype="image/png"))


def _service(address: SecretStr) -> "apprise.NotifyBase | None":
    """Return apprise's own object for an address, set to plain text, or None."""
    _load()
    import apprise  # noqa: PLC0415 - see above

    # In our own thread and without a deadline of its own: both are kept by the courier.
    asset = apprise.AppriseAsset(async_mode=False, service_timeout=0)
    return apprise.Apprise.instantiate(address.get_secret_value(), asset=asset)


@cache
def _load() -> None:
    """Load apprise's services, once, with what their imports warn of kept quiet."""
    _quiet()
    import apprise  # noqa: PLC0415 - see above

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        apprise.Apprise.instantiate("json://localhost")


def _quiet() -> None:
    """Keep the libraries' own log lines, which spell out addresses, from every log."""
    for name in ("apprise", "urllib3"):
        logger = logging.getLogger(name)
        logger.propagate = False
        logger.setLevel(logging.WARNING)
        if not logger.handlers:
            logger.addHandler(logging.NullHandler())


def _failed(outcome: Any, address: SecretStr) -> Result:  # noqa: ANN401 - apprise is untyped
    lines = [str(entry.message) for entry in outcome.logs()]
    text = redacted("; ".join(lines), address) or "the service did not take it"
    return failed(text, refused="onnection error" not in text)
