"""Bytes and SenML packs that nobody would send: decoded or refused, in bounded memory."""

import contextlib
import copy
import json
import math
import tracemalloc
from typing import Any

import cbor2
from hypothesis import given
from hypothesis import strategies as st

from monitor.intake import Decoder, Screen, Stamper
from monitor.model import Message, Quantity
from monitor.mqtt.preparing import Preparing
from monitor.mqtt.redelivery import Window
from tests.fuzzing import drawn
from tests.intake.made import NOW_MS, Instrument, Spec, T, message
from tests.shared_files import shared

J = Instrument(
    (Spec(Quantity.TEMPERATURE, "t"), Spec(Quantity.HUMIDITY, "a.0.h", "%")), "barn/j", "j"
)
S = Instrument(
    (Spec(Quantity.TEMPERATURE, "voltage"), Spec(Quantity.HUMIDITY, "urn:dev:ow:1", "%")),
    "barn/s",
    "s",
)
EXAMPLES = [
    json.loads(each.read_text(encoding="utf-8"))
    for each in sorted(shared("senml").glob("*.input.json"))
]

odd_numbers = st.one_of(
    st.integers(), st.floats(), st.sampled_from([
        10**400, -(10**400), 2**63, -(2**63), 1e308, 5e-324, math.inf, -math.inf, math.nan,
    ]),
)  # fmt: skip
odd_texts = st.one_of(
    st.text(max_size=40),
    st.sampled_from(["", "NaN", "inf", "4,1", "0x10", "1e999", "\ud800", "٣", "off", "\0", "t"]),
)
leaves = st.one_of(st.none(), st.booleans(), odd_numbers, odd_texts, st.binary(max_size=9))
names = st.one_of(
    odd_texts, st.sampled_from(["t", "h", "a", "ts", "time", "n", "bn", "bt", "v", "u", "bv", "bs",
                                "s", "ut", "bver", "vs", "vb", "vd", "b_"])
)  # fmt: skip
trees = st.recursive(
    leaves,
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(names, inner, max_size=5)),
    max_leaves=20,
)


def _plain(value: object) -> object:
    """Return what JSON can hold of a tree."""
    if isinstance(value, dict):
        return {str(key): _plain(each) for key, each in value.items()}
    if isinstance(value, list):
        return [_plain(each) for each in value]
    return value.hex() if isinstance(value, bytes) else value


@st.composite
def packs(draw: st.DrawFn) -> object:
    """Draw a pack of the standard's own examples with some fields changed."""
    pack = copy.deepcopy(draw(st.sampled_from(EXAMPLES)))
    for _ in range(draw(st.integers(0, 4))):
        record: dict[str, Any] = draw(st.sampled_from(pack))
        name = draw(st.one_of(st.sampled_from(sorted(record)), names)) if record else draw(names)
        if draw(st.booleans()):
            record[str(name)] = draw(trees)
        else:
            record.pop(name, None)
    return pack


@st.composite
def torn(draw: st.DrawFn, whole: st.SearchStrategy[bytes]) -> bytes:
    """Draw bytes that were whole, with some cut out, put in or changed."""
    body = bytearray(draw(whole))
    for _ in range(draw(st.integers(0, 4))):
        at = draw(st.integers(0, len(body)))
        body[at : at + draw(st.integers(0, 6))] = draw(st.binary(max_size=6))
    return bytes(body)


def _json(value: object) -> bytes:
    return json.dumps(_plain(value)).encode("utf-8", "surrogatepass")


def _cbor(value: object) -> bytes:
    with contextlib.suppress(ValueError, OverflowError):
        return cbor2.dumps(value)
    return _json(value)


whole_bodies = st.one_of(
    trees.map(_json), trees.map(_cbor), packs().map(_json), packs().map(_cbor),
    odd_texts.map(lambda text: text.encode("utf-8", "surrogatepass")),
)  # fmt: skip
bodies = st.one_of(torn(whole_bodies), whole_bodies, st.binary(max_size=200))


class Intake:
    """The way of a message up to the store, over a farm of three sensors."""

    def __init__(self) -> None:
        decoder = Decoder([T, J, S], Screen())
        self._preparing = Preparing(decoder, Stamper(), Window(), lambda _topic: False)
        self._at_ms = NOW_MS

    def take(self, body: bytes) -> None:
        """Take a body at each topic; nothing escapes, no defect is blamed, all is finite."""
        self._at_ms += 1_000
        taken: list[Message] = [
            message(body, self._at_ms, topic) for topic in ("barn/x", "barn/j", "barn/s", "barn/-")
        ]
        pack = self._preparing.prepare(taken)
        assert [each.detail for each in pack.refusals if each.reason == "defect"] == []
        for reading in pack.readings:
            assert math.isfinite(reading.raw)
            assert reading.at_ms <= self._at_ms + 600_000
        for refusal in pack.refusals:
            assert len(refusal.payload) <= 500
            refusal.detail.encode("utf-8", "surrogatepass")


INTAKE = Intake()


@drawn(300)
@given(bodies)
def test_whatever_a_sensor_sends_is_read_or_refused(body: bytes) -> None:
    """JSON, CBOR, SenML or none of them, whole or torn: no exception, no defect of ours."""
    INTAKE.take(body)


def test_memory_stays_level_under_rubbish() -> None:
    """Taken ten times over, the same rubbish leaves no more behind than taken once."""
    rubbish: list[bytes] = []

    @drawn(60)
    @given(bodies)
    def collect(body: bytes) -> None:
        rubbish.append(body)

    collect()
    intake = Intake()
    for each in rubbish:
        intake.take(each)
    tracemalloc.start()
    first = tracemalloc.get_traced_memory()[0]
    for _ in range(10):
        for each in rubbish:
            intake.take(each)
    grown = tracemalloc.get_traced_memory()[0] - first
    tracemalloc.stop()
    assert grown < 500_000
