"""The tree of expected failures, on one page.

Each message says what is wrong, where, and what to do next; commands print it on
standard error and end with exit code 2. Anything else that escapes is a defect.
"""


class CormwatchError(Exception):
    """Base of every failure that a user can meet and mend."""


class OutOfRangeError(CormwatchError, ValueError):
    """A figure lies outside what a formula or a field can take."""


class UnitError(CormwatchError, ValueError):
    """A text is no quantity in a unit this program knows."""


class FarmError(CormwatchError):
    """The farm's files cannot be used: every mistake is in the message."""


class PayloadError(CormwatchError):
    """A message cannot be read as readings; ``reason`` is counted and shown."""

    def __init__(self, reason: str, detail: str) -> None:
        super().__init__(f"{reason}: {detail}")
        self.reason = reason
        self.detail = detail


class LedgerRuleError(CormwatchError):
    """An entry would contradict what the ledger already says."""


class UnknownNameError(CormwatchError):
    """A place, batch, sensor, crop, person or alarm of this name does not exist."""


class StoreError(CormwatchError):
    """A file of the store cannot be opened, read or written."""


class SchemaNewerError(StoreError):
    """A file was written by a newer version of this program."""


class BusyError(StoreError):
    """Another process holds the lock that this action needs."""


class BrokerError(CormwatchError):
    """The MQTT broker cannot be reached or refuses us."""


class MirrorError(CormwatchError):
    """The server that readings are copied to cannot be reached, or refuses us."""


class NoticeError(CormwatchError):
    """A notice could not be handed to its address."""
