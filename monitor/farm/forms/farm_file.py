"""``farm.toml`` as written."""

from typing import Annotated, Literal

from pydantic import Field

from monitor.farm.declared import NoticeRules
from monitor.farm.forms.bands import BandsForm
from monitor.farm.forms.kinds import (
    Clock,
    Difference,
    Duration,
    Filter,
    Form,
    Id,
    Language,
    Moment,
    OneKind,
    OneQuantity,
    Percent,
    Port,
    Temperature,
    Text,
    Topic,
)
from monitor.farm.forms.watcher_table import CardForm, Listen
from monitor.model import Priority

OnePriority = Annotated[Priority, Field(strict=False)]
_RULES = NoticeRules()


class FarmForm(Form):
    """``[farm]``"""

    name: Text
    time_zone: Text
    latitude: Annotated[float, Field(ge=-90, le=90)]
    longitude: Annotated[float, Field(ge=-180, le=180)]
    units: Literal["F", "C"] = "F"
    language: Language = "en"


class TlsForm(Form):
    """``[broker.tls]``"""

    ca_file: Text | None = None
    cert_file: Text | None = None
    key_file: Text | None = None
    check_host: bool = True


class BrokerForm(Form):
    """``[broker]``"""

    host: Annotated[Text, Field(pattern=r"^[A-Za-z0-9._:%-]+$")] = "127.0.0.1"
    port: Port = 1883
    embedded: bool = False
    user: Text | None = None
    password: Text | None = None
    protocol: Literal["5", "3.1.1"] = "5"
    tls: TlsForm | None = None
    client_id: Annotated[Text, Field(max_length=64)] = "cormwatch"
    listen: list[Filter] = Field(default_factory=lambda: ["#"], min_length=1)


class PagesForm(Form):
    """``[pages]``"""

    listen: Listen = "127.0.0.1:8484"
    base_url: Annotated[Text, Field(pattern=r"^https?://[^/@\s]+")] | None = None
    sign_in: Literal["away", "always"] = "away"
    hosts: list[Annotated[Text, Field(pattern=r"^[A-Za-z0-9._-]+$|^[0-9A-Fa-f:]+$")]] = Field(
        default_factory=list
    )
    certificate: Text | None = None
    key: Text | None = None


class NoticesForm(Form):
    """``[notices]``"""

    remind_after: Duration = 1800.0
    escalate_after: Annotated[Duration, Field(gt=0, le=86_400)] = _RULES.escalate_after_s
    quiet_from: Clock | None = None
    quiet_until: Clock | None = None
    morning_at: Clock | None = None
    frost_chance: Annotated[Percent, Field(ge=1, le=100)] = 100 * _RULES.frost_chance
    covers_before: Annotated[Duration, Field(ge=900, le=14_400)] = _RULES.covers_before_s
    open_at: Annotated[Temperature, Field(ge=5, le=45)] = _RULES.open_at_c
    digest: Literal["weekly", "daily", "off"] = "weekly"
    send_to: dict[OnePriority, list[Id]] = Field(default_factory=dict)


class PlaceForm(Form):
    """``[[place]]``"""

    id: Id
    name: Text
    kind: OneKind
    lag: Duration | None = None
    deadband: Difference | None = None
    humidity_deadband: Difference | None = None
    off_delay: Duration | None = None
    first_look: Text | None = None
    cover: Literal["none", "light", "heavy", "inner"] | None = None
    bands: BandsForm | None = None
    card: CardForm | None = None


class CalibrationForm(Form):
    """``[[sensor.channel.calibration]]``"""

    since: Moment
    offset: Difference
    slope: Annotated[float, Field(gt=0.5, lt=2.0)] = 1.0
    note: str = ""


class ChannelForm(Form):
    """``[[sensor.channel]]``"""

    quantity: OneQuantity
    path: Text | None = None
    unit: Literal["C", "F", "K", "%"] | None = None
    decimal_comma: bool = False
    calibration: list[CalibrationForm] = Field(default_factory=list)


class SensorForm(Form):
    """``[[sensor]]``"""

    id: Id
    name: Text | None = None
    place: Text
    topic: Topic
    interval: Duration
    silent_after: Duration | None = None
    allowed_gap: Duration | None = None
    time_path: Text | None = None
    hangs: str = ""
    gateway: Id | None = None
    channel: Annotated[list[ChannelForm], Field(min_length=1)]
