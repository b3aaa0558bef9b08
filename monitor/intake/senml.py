"""SenML packs, JSON and CBOR, resolved record by record.

References
----------
RFC 8428, sections 4 (labels, resolution), 5 (JSON), 6 (CBOR). A pack with one bad
record is refused whole, since base fields carry over from record to record. Where the
text leaves the choice to the receiver, the stricter reading is taken: a double key, an
exponent in upper case and a base value without a value refuse the pack.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from io import BytesIO
from typing import Any, Final

from monitor.errors import PayloadError
from monitor.intake.reasons import Reason, shown
from monitor.intake.tree import DEEPEST, NotFinite, check_size, parse_json, scanner

VERSION: Final = 10
RELATIVE_BELOW_S: Final = 2.0**28
CBOR_ARRAYS: Final = range(0x80, 0xA0)  # major type 4 (RFC 8949, 3.1): no UTF-8 text begins so

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:./_]*", re.ASCII)
_BASE64URL = re.compile(r"[A-Za-z0-9_-]*", re.ASCII)
_SEPARATOR = re.compile(r"[:/]")
_NUMBERS: Final = frozenset({"bt", "bv", "bs", "v", "s", "t", "ut", "bver"})
_TEXTS: Final = frozenset({"bn", "bu", "n", "u", "vs"})
_VALUES: Final = ("v", "vs", "vb", "vd")
_BASES: Final = frozenset({"bn", "bt", "bu", "bv", "bs", "bver"})
_OWN: Final = frozenset({"n", "u", "s", "t", "ut", *_VALUES})

# RFC 8428, table 4: the integers that stand for labels in CBOR.
_CBOR_LABELS: Final = {
    -1: "bver", -2: "bn", -3: "bt", -4: "bu", -5: "bv", -6: "bs",
    0: "n", 1: "u", 2: "v", 3: "vs", 4: "vb", 5: "s", 6: "t", 7: "ut", 8: "vd",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Record:
    """One resolved record: no base field is left to apply.

    ``time_s`` is the sum of base time and time: relative to receipt where it is under
    2**28, else UTC since 1970. ``update_s`` is the longest time to the next update.
    """

    name: str
    ending: str  # what the record itself added to the base name
    unit: str | None
    time_s: float
    number: float | None
    text: str | None
    flag: bool | None
    data: str | bytes | None
    total: float | None
    update_s: float | None
    version: int

    @property
    def relative(self) -> bool:
        """Return whether the time is relative to receipt (RFC 8428, section 4.5.3)."""
        return self.time_s < RELATIVE_BELOW_S

    def utc_s(self, received_s: float) -> float:
        """Return the record's time. [s since 1970]"""
        return received_s + self.time_s if self.relative else self.time_s

    @property
    def endings(self) -> tuple[str, str, str]:
        """Return the names a channel's path may go by, the longest first."""
        return self.name, self.ending, _SEPARATOR.split(self.name)[-1]


def _lower_exponent(text: str) -> float:
    if "E" in text:
        raise PayloadError(Reason.NOT_SENML, f"{text[:20]}: the exponent's e is lower case")
    return float(text)


_scan = scanner(_lower_exponent)


def parse_pack_json(payload: bytes) -> list[Record]:
    """Resolve a SenML pack in JSON.

    Raises
    ------
    PayloadError
        If the message is no strict JSON or no valid pack.
    """
    return resolve(parse_json(payload, _scan))


def parse_pack_cbor(payload: bytes) -> list[Record]:
    """Resolve a SenML pack in CBOR.

    Raises
    ------
    PayloadError
        If the message is no CBOR (RFC 8949) or no valid pack.
    """
    check_size(payload)
    pack = _read_cbor(payload)
    if not isinstance(pack, list):
        raise PayloadError(Reason.NOT_SENML, "a pack is an array of records")
    return resolve([_labelled(record) for record in pack])


def _read_cbor(payload: bytes) -> Any:  # noqa: ANN401 - CBOR is of any kind
    import cbor2  # noqa: PLC0415 - imported only on a farm that sends CBOR: memory

    source = BytesIO(payload)
    try:
        pack = cbor2.CBORDecoder(source, max_depth=DEEPEST, allow_duplicate_keys=False).decode()
    except (cbor2.CBORError, ValueError, ArithmeticError, RecursionError) as wrong:
        raise PayloadError(Reason.NOT_CBOR, shown(str(wrong))) from wrong
    if source.read(1):
        raise PayloadError(Reason.NOT_CBOR, "more bytes after the pack")
    return pack


def _labelled(record: object) -> dict[str, Any]:
    if not isinstance(record, Mapping):
        raise PayloadError(Reason.NOT_SENML, "a record is a map")
    named = {}
    for key, value in record.items():
        label = _CBOR_LABELS.get(key, str(key)) if type(key) is int else key
        if not isinstance(label, str) or label in named:
            raise PayloadError(Reason.NOT_SENML, f"label {shown(label)} is doubled or no text")
        named[label] = value
    return named


def resolve(pack: object) -> list[Record]:
    """Return a pack's records with the base fields applied, in their own order.

    Raises
    ------
    PayloadError
        If the pack breaks a rule of RFC 8428.
    """
    if not isinstance(pack, Sequence) or isinstance(pack, str | bytes) or not pack:
        raise PayloadError(Reason.NOT_SENML, "a pack is an array of at least one record")
    base: dict[str, Any] = {}
    versions: set[int] = set()
    records = []
    for item in pack:
        fields = _checked(item)
        base.update((label, fields[label]) for label in _BASES & fields.keys())
        versions.add(base.get("bver", VERSION))
        if not fields.keys() & _OWN and fields.keys() & _BASES:
            continue
        records.append(_record(fields, base))
    if len(versions) > 1:
        raise PayloadError(Reason.NOT_SENML, "records of several versions in one pack")
    return records


def _checked(item: object) -> dict[str, Any]:
    """Return a record's known fields, each of its proper kind."""
    if not isinstance(item, Mapping):
        raise PayloadError(Reason.NOT_SENML, "a record is an object")
    fields: dict[str, Any] = {}
    for label, value in item.items():
        if label in _NUMBERS:
            fields[label] = _finite(label, value)
        elif label in _BASES or label in _OWN:
            _check_kind(label, value)
            fields[label] = value
        elif label.endswith("_"):
            raise PayloadError(Reason.NOT_SENML, f"{shown(label)} must be understood and is not")
    if "bver" in fields:
        fields["bver"] = _version(fields["bver"])
    return fields


def _finite(label: str, value: object) -> float:
    if isinstance(value, bool | NotFinite) or not isinstance(value, int | float | Decimal):
        raise PayloadError(Reason.NOT_SENML, f"{label} is a number")
    try:
        number = float(value)
    except (OverflowError, ValueError) as wrong:
        raise PayloadError(Reason.NOT_SENML, f"{label} is a finite number") from wrong
    if number - number != 0:
        raise PayloadError(Reason.NOT_SENML, f"{label} is a finite number")
    return number


def _check_kind(label: str, value: object) -> None:
    if label in _TEXTS:
        good = isinstance(value, str)
    elif label == "vb":
        good = isinstance(value, bool)
    else:
        good = isinstance(value, bytes) or (
            isinstance(value, str) and _BASE64URL.fullmatch(value) is not None
            and len(value) % 4 != 1
        )  # fmt: skip
    if not good:
        raise PayloadError(Reason.NOT_SENML, f"{label} holds {shown(value)}")


def _version(value: float) -> int:
    if value != int(value) or not 1 <= value <= VERSION:
        raise PayloadError(Reason.NOT_SENML, f"version {value:g}: 1 to {VERSION} are understood")
    return int(value)


def _record(fields: Mapping[str, Any], base: Mapping[str, Any]) -> Record:
    given = [label for label in _VALUES if label in fields]
    if len(given) > 1 or (not given and "s" not in fields):
        raise PayloadError(Reason.NOT_SENML, f"a record has one value, not {len(given)}")
    ending = fields.get("n", "")
    name = base.get("bn", "") + ending
    if _NAME.fullmatch(name) is None:
        raise PayloadError(Reason.NOT_SENML, f"{shown(name)} is no name")
    return Record(
        name=name,
        ending=ending,
        unit=fields.get("u", base.get("bu")),
        time_s=base.get("bt", 0.0) + fields.get("t", 0.0),
        number=base.get("bv", 0.0) + fields["v"] if "v" in fields else None,
        text=fields.get("vs"),
        flag=fields.get("vb"),
        data=fields.get("vd"),
        total=base.get("bs", 0.0) + fields["s"] if "s" in fields else None,
        update_s=fields.get("ut"),
        version=base.get("bver", VERSION),
    )
