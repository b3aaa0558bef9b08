"""SenML against the examples of RFC 8428 and texts to accept or refuse by its rules."""

import json
from typing import Any

import cbor2
import pytest

from monitor.errors import PayloadError
from monitor.intake import Decoded, Decoder
from monitor.intake.senml import Record, parse_pack_cbor, parse_pack_json
from monitor.model import Flag, Quantity
from tests.intake.made import Instrument, Spec, message, reasons
from tests.shared_files import shared

pytestmark = pytest.mark.outside

FOLDER = shared("senml")
MANIFEST = json.loads((FOLDER / "manifest.json").read_text(encoding="utf-8"))
ERRORS = json.loads((FOLDER / "errors.json").read_text(encoding="utf-8"))["cases"]
NOW_S: int = MANIFEST["now_example"]
NAME = "urn:dev:ow:10e2073a01080063"

# Where the RFC leaves the choice: refused as a pack, or by the channel it would go to.
REFUSED_PACKS = {"exponent-upper", "duplicate-key", "bv-no-v"}
REFUSED_VALUES = {
    "unit-degF": "unit",
    "unit-F-is-farad": "unit",
    "unit-percent-is-ratio": "unit",
    "relative-crosses-2^28": "time",
    "large-negative-is-relative": "time",
    "future-reading": "time",
}
ACCEPTED_CHOICES = {"bom"}


def _bytes(case: dict[str, Any]) -> bytes:
    if "input_hex" in case:
        return bytes.fromhex((FOLDER / case["input_hex"]).read_text(encoding="utf-8"))
    return (FOLDER / str(case["input"])).read_bytes()


def _as_resolved(record: Record, now_s: float) -> dict[str, Any]:
    """Return a record in the RFC's resolved form."""
    fields = {
        "n": record.name, "u": record.unit, "t": record.utc_s(now_s), "v": record.number,
        "vs": record.text, "vb": record.flag, "vd": record.data, "s": record.total,
        "bver": record.version if record.version != 10 else None,
    }  # fmt: skip
    return {label: value for label, value in fields.items() if value is not None}


def _sorted(records: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return sorted(records, key=lambda record: (record["t"], record["n"], record.get("u", "")))


@pytest.mark.parametrize("case", MANIFEST["cases"], ids=lambda case: str(case["name"]))
def test_each_example_of_the_rfc_resolves_as_printed(case: dict[str, Any]) -> None:
    """Every pack of RFC 8428, JSON and CBOR, resolves to its resolved form."""
    payload = _bytes(case)
    parse = parse_pack_cbor if "input_hex" in case else parse_pack_json
    found = [_as_resolved(record, case["now"] or NOW_S) for record in parse(payload)]
    expected = json.loads((FOLDER / case["resolved"]).read_text(encoding="utf-8"))
    assert len(found) == case["records_out"]
    for got, wanted in zip(_sorted(found), _sorted(expected), strict=True):
        assert got.pop("t") == pytest.approx(wanted.pop("t"), abs=1e-3)
        assert got == wanted


def test_records_keep_the_order_they_came_in() -> None:
    """A pack's records come out as they stand, older ones after newer."""
    stem = "5.1.2b-base-time-and-unit"
    expected = json.loads((FOLDER / f"{stem}.resolved-input-order.json").read_bytes())
    found = parse_pack_json((FOLDER / f"{stem}.input.json").read_bytes())
    assert [record.number for record in found] == [record["v"] for record in expected]


@pytest.mark.parametrize("case", ERRORS, ids=lambda case: str(case["name"]))
def test_each_text_is_taken_or_refused_as_the_rfc_rules(case: dict[str, Any]) -> None:
    """Of 42 texts each is accepted or refused; a choice is refused unless it is harmless."""
    name, verdict, payload = case["name"], case["verdict"], case["raw"].encode()
    if verdict == "reject" or name in REFUSED_PACKS:
        with pytest.raises(PayloadError):
            parse_pack_json(payload)
    elif name in REFUSED_VALUES:
        found = _decode(payload, Spec(Quantity.TEMPERATURE))
        assert found.readings == []
        assert reasons(found) == [REFUSED_VALUES[name]]
    else:
        assert verdict == "accept" or name in ACCEPTED_CHOICES
        assert parse_pack_json(payload)


def _decode(payload: bytes, *channels: Spec) -> Decoded:
    return Decoder([Instrument(channels)]).decode(message(payload, NOW_S * 1000))


def test_a_channel_is_found_by_name_by_ending_or_by_unit() -> None:
    """A path is the full name, what follows the base name, or the last part of it."""
    payload = (FOLDER / "5.1.5-multiple-data-types.input.json").read_bytes()
    for path in (f"{NAME}:temp", "temp"):
        found = _decode(payload, Spec(Quantity.TEMPERATURE, path))
        assert [reading.raw for reading in found.readings] == [23.1]
    found = _decode(payload, Spec(Quantity.TEMPERATURE), Spec(Quantity.HUMIDITY, None, "%"))
    assert [reading.raw for reading in found.readings] == [23.1]


def test_kelvin_and_celsius_are_honoured_as_labelled() -> None:
    """A record in K on a channel declared in °F is read in K (0 °C is 273.15 K)."""
    for unit, value in (("K", 273.15), ("Cel", 0.0)):
        pack = f'[{{"n":"{NAME}","u":"{unit}","v":{value}}}]'.encode()
        (reading,) = _decode(pack, Spec(Quantity.TEMPERATURE, None, "F")).readings
        assert reading.raw == pytest.approx(0.0, abs=1e-9)


def test_a_pack_of_two_devices_is_not_mixed_into_one_channel() -> None:
    """Where two names share the unit that a channel goes by, the second is refused."""
    payload = (FOLDER / "5.1.6-collection-of-resources.input.json").read_bytes()
    found = _decode(payload, Spec(Quantity.TEMPERATURE))
    assert [reading.raw for reading in found.readings] == [25.2]
    assert reasons(found) == ["no_channel"]


def test_absolute_times_are_the_sensors_own_and_now_is_not() -> None:
    """A base time dates its readings; a record without a time stands at its receipt."""
    dated = f'[{{"n":"{NAME}","u":"Cel","bt":{NOW_S - 60},"t":10,"v":4}}]'.encode()
    (reading,) = _decode(dated, Spec(Quantity.TEMPERATURE)).readings
    assert (reading.at_ms, reading.flags) == ((NOW_S - 50) * 1000, Flag.DEVICE_TIME)
    (reading,) = _decode((FOLDER / "1-overview.input.json").read_bytes(),
                         Spec(Quantity.TEMPERATURE)).readings  # fmt: skip
    assert (reading.at_ms, reading.flags) == (NOW_S * 1000, Flag.NONE)


def test_the_time_to_the_next_update_is_handed_on() -> None:
    """``ut`` tells how long silence is to be expected."""
    pack = f'[{{"n":"{NAME}","u":"Cel","v":4,"ut":900}}]'.encode()
    assert _decode(pack, Spec(Quantity.TEMPERATURE)).update_s == 900


def test_the_same_pack_decodes_from_cbor() -> None:
    """A CBOR pack on a sensor's topic yields the readings of its JSON twin."""
    pack = cbor2.dumps([{-2: "room:", -3: NOW_S - 5, 0: "t", 1: "Cel", 2: 4.25}, {0: "h", 1: "%RH",
                       2: 80}])  # fmt: skip
    found = _decode(pack, Spec(Quantity.TEMPERATURE, "t"), Spec(Quantity.HUMIDITY, "h", "%"))
    assert [(reading.raw, reading.at_ms) for reading in found.readings] == [
        (4.25, (NOW_S - 5) * 1000),
        (80.0, (NOW_S - 5) * 1000),
    ]


@pytest.mark.parametrize(
    ("payload", "reason"),
    [
        (bytes.fromhex("81a2006174026178"), "not_senml"),  # a text where a number belongs
        (bytes.fromhex("81a3006174020102 02".replace(" ", "")), "not_cbor"),  # a key twice
        (b"\x81" * 1000, "not_cbor"),  # deeper than 32
        (b"\x9b" + b"\xff" * 8, "not_cbor"),  # 2**64 items announced
        (bytes.fromhex("81a2006174027e"), "not_cbor"),  # cut off
        (cbor2.dumps([{0: "t", 2: 4.0}]) + b"\x00", "not_cbor"),  # more after the end
        (cbor2.dumps([{0: "t", 2: float("nan")}]), "not_senml"),
        (cbor2.dumps([{0: "t", 2: True}]), "not_senml"),
        (cbor2.dumps([{"n": "t", 0: "t", 2: 4.0}]), "not_senml"),  # a label twice
        (cbor2.dumps([4]), "not_senml"),
    ],
    ids=range(10),
)
def test_bad_cbor_is_refused(payload: bytes, reason: str) -> None:
    """Cut off, bottomless, doubled or wrongly typed CBOR is refused with its reason."""
    assert reasons(_decode(payload, Spec(Quantity.TEMPERATURE))) == [reason]
