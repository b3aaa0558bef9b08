"""Forms made into the plain frozen objects that the rest of the program uses."""

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from pydantic import SecretStr

from monitor.farm.crop import Crop
from monitor.farm.declared import Broker, NoticeRules, Person, Place, Tls, Web
from monitor.farm.duty import WEEKDAYS, Duty
from monitor.farm.forms import (
    BackupForm,
    BrokerForm,
    CropForm,
    DutyForm,
    KindForm,
    MirrorForm,
    NoticesForm,
    PagesForm,
    PlaceForm,
    SensorForm,
    StageForm,
    TlsForm,
    WatcherForm,
)
from monitor.farm.forms.farm_file import CalibrationForm, ChannelForm
from monitor.farm.forms.people_file import PersonForm
from monitor.farm.forms.watcher_table import CardForm
from monitor.farm.instruments import Calibration, ChannelSpec, Sensor
from monitor.farm.mirroring import Mirror
from monitor.farm.upkeep import Backup
from monitor.farm.watcher import Card, Phone, Second, Watcher
from monitor.languages import translator
from monitor.model import Band, Grade, Quantity, Stage

_SILENT_AT_LEAST_S = 180.0
_SILENT_INTERVALS = 3


def merged(own: Mapping[Quantity, Band], by_kind: Mapping[Quantity, Band]) -> dict[Quantity, Band]:
    """Return a place's bands, each limit it does not name itself taken from its kind.

    Harm limits that name neither side switch those of the kind off.
    """
    both = dict(by_kind)
    for quantity, band in own.items():
        default = by_kind.get(quantity, Band())
        both[quantity] = Band(band.ideal or default.ideal, band.harm or default.harm)
    return {quantity: _without_empty(band) for quantity, band in both.items()}


def _without_empty(band: Band) -> Band:
    harm = band.harm
    if harm is not None and harm.low is None and harm.high is None:
        return Band(band.ideal, None)
    return band


def place(form: PlaceForm, kind: KindForm) -> Place:
    """Return a place, completed by what its kind says."""
    own = {} if form.bands is None else form.bands.built()
    named: dict[str, Any] = {
        field: getattr(form, key) if getattr(form, key) is not None else getattr(kind, key)
        for field, key in (
            ("lag_s", "lag"), ("deadband_c", "deadband"), ("deadband_pct", "humidity_deadband"),
            ("off_delay_s", "off_delay"), ("first_look", "first_look"),
        )
    }  # fmt: skip
    given = {field: value for field, value in named.items() if value is not None}
    return Place(
        id=form.id,
        name=form.name,
        kind=form.kind,
        bands=merged(own, kind.bands.built()),
        cover=form.cover,
        card=None if form.card is None else _card(form.card),
        **given,
    )


def _card(form: CardForm) -> Card:
    phones = tuple(Phone(each.name, each.number) for each in form.phones)
    return Card(tuple(form.steps), phones, form.spare or "")


def at_ms(moment: datetime, zone: ZoneInfo) -> int:
    """Return a date or time of a file as UTC; without a zone it is the farm's. [ms]"""
    local = moment if moment.tzinfo else moment.replace(tzinfo=zone)
    return (local - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(milliseconds=1)


def _calibration(form: CalibrationForm, zone: ZoneInfo) -> Calibration:
    return Calibration(at_ms(form.since, zone), form.offset, form.slope, form.note)


def _channel(form: ChannelForm, zone: ZoneInfo) -> ChannelSpec:
    dated = sorted(
        (_calibration(each, zone) for each in form.calibration), key=lambda each: each.since_ms
    )
    return ChannelSpec(form.quantity, form.path, form.unit or "", form.decimal_comma, tuple(dated))


def sensor(form: SensorForm, zone: ZoneInfo) -> Sensor:
    """Return a sensor; silent and gap times follow from its interval where not given."""
    common = max(_SILENT_INTERVALS * form.interval, _SILENT_AT_LEAST_S)
    return Sensor(
        id=form.id,
        name=form.name or form.id,
        place=form.place,
        topic=form.topic,
        interval_s=form.interval,
        silent_after_s=form.silent_after or common,
        allowed_gap_s=form.allowed_gap or common,
        channels=tuple(_channel(each, zone) for each in form.channel),
        time_path=form.time_path,
        hangs=form.hangs,
        gateway=form.gateway or "",
    )


def stage(form: StageForm) -> Stage:
    """Return a stage."""
    return Stage(
        id=form.id,
        name=form.name or form.id.replace("_", " "),
        place_kinds=tuple(form.places),
        bands=form.bands.built(),
        least_s=form.least,
        longest_s=form.longest,
        tell_before_s=form.tell_before,
        late_harms=form.late_harms,
        time_grade=form.time_grade or Grade.FARM,
        time_source=form.time_source or "",
    )


def crop(form: CropForm) -> Crop:
    """Return a crop with its stages in order."""
    return Crop(
        id=form.id,
        name=form.name,
        stages={each.id: stage(each) for each in form.stage},
        units={each.id: each.unit for each in form.stage},
        ethylene=None if form.ethylene is None else form.ethylene.built(),
        q10=None if form.q10 is None else form.q10.built(),
        roots=form.roots.built(),
        notes=tuple(each.built() for each in form.note),
    )


def _tls(form: TlsForm, directory: Path) -> Tls:
    ca, cert, key = (
        _found(each, directory) for each in (form.ca_file, form.cert_file, form.key_file)
    )
    return Tls(ca, cert, key, form.check_host)


def broker(form: BrokerForm, password: SecretStr | None, directory: Path) -> Broker:
    """Return the broker; file names are taken from the farm's folder."""
    return Broker(
        host=form.host,
        port=form.port,
        embedded=form.embedded,
        user=form.user,
        password=password,
        protocol=form.protocol,
        tls=None if form.tls is None else _tls(form.tls, directory),
        client_id=form.client_id,
        listen=tuple(form.listen),
    )


def web(form: PagesForm, directory: Path) -> Web:
    """Return where and how the pages are served; file names are taken from the farm's folder."""
    host, _, port = form.listen.rpartition(":")
    return Web(
        host=host.strip("[]"),
        port=int(port),
        base_url=form.base_url and form.base_url.rstrip("/"),
        sign_in=form.sign_in,
        hosts=tuple(each.lower() for each in form.hosts),
        certificate=_found(form.certificate, directory),
        key=_found(form.key, directory),
    )


def _found(name: str | None, directory: Path) -> Path | None:
    return None if name is None else directory / Path(name).expanduser()


def duty(form: DutyForm) -> Duty:
    """Return who is on duty when."""
    days = tuple(WEEKDAYS.index(each) for each in form.weekdays)
    return Duty(form.person, days, form.first, form.last)


def notices(form: NoticesForm) -> NoticeRules:
    """Return who is told, and when."""
    given = {} if form.morning_at is None else {"morning_at": form.morning_at}
    return NoticeRules(
        remind_after_s=form.remind_after,
        escalate_after_s=form.escalate_after,
        quiet_from=form.quiet_from,
        quiet_until=form.quiet_until,
        frost_chance=form.frost_chance / 100,
        covers_before_s=form.covers_before,
        open_at_c=form.open_at,
        digest=form.digest,
        send_to={priority: tuple(ids) for priority, ids in form.send_to.items()},
        **given,
    )


def person(form: PersonForm, addresses: tuple[SecretStr, ...], language: str) -> Person:
    """Return someone to tell, their addresses resolved; ``language`` is the farm's."""
    return Person(
        form.id,
        form.name,
        addresses,
        form.role,
        frozenset(form.pictures),
        form.language,
        translator(form.language or language),
    )


def watcher(form: WatcherForm, secrets: Mapping[str, SecretStr]) -> Watcher:
    """Return the heartbeats; ``secrets`` are those resolved, by their keys in the table."""
    second = form.second
    built = None
    if second is not None and "second.secret" in secrets:
        host, _, port = second.listen.rpartition(":")
        built = Second(
            second.name, host.strip("[]"), int(port), secrets["second.secret"],
            second.expect_every, second.grace,
        )  # fmt: skip
    return Watcher(
        heartbeat_url=secrets.get("heartbeat_url"),
        secret=secrets.get("secret"),
        method=form.method,
        every_s=form.every,
        topic=form.topic,
        watches=form.watches or "",
        second=built,
    )


def mirror(form: MirrorForm, token: SecretStr | None) -> Mirror:
    """Return where readings are copied to; ``token`` is the secret resolved."""
    url = form.url.rstrip("/")
    return Mirror(url, form.bucket, form.site, form.org, token, form.measurement)


def backup(form: BackupForm, directory: Path) -> Backup:
    """Return the copies by the day; a folder without a beginning lies in the farm's own."""
    return Backup(directory / Path(form.folder).expanduser(), form.at, form.keep)
