"""What the grower declared, as plain frozen objects: the farm and its parts."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import time
from pathlib import Path
from zoneinfo import ZoneInfo

from pydantic import SecretStr

from monitor.farm.crop import Crop
from monitor.farm.duty import Duty
from monitor.farm.instruments import Sensor
from monitor.farm.mirroring import Mirror
from monitor.farm.upkeep import Backup
from monitor.farm.watcher import Card, Watcher
from monitor.model import Band, PlaceKind, Priority, Quantity, Role
from monitor.phrase import Translate, in_english
from monitor.units import TemperatureUnit


@dataclass(frozen=True, slots=True)
class Tls:
    """Files for an encrypted connection; ``check_host`` False accepts any host name."""

    ca_file: Path | None = None
    cert_file: Path | None = None
    key_file: Path | None = None
    check_host: bool = True


@dataclass(frozen=True, slots=True)
class Broker:
    """Where readings come from; ``listen`` are the topic filters that are subscribed."""

    host: str = "127.0.0.1"
    port: int = 1883
    embedded: bool = False
    user: str | None = None
    password: SecretStr | None = None
    protocol: str = "5"
    tls: Tls | None = None
    client_id: str = "cormwatch"
    listen: tuple[str, ...] = ("#",)


@dataclass(frozen=True, slots=True)
class Web:
    """Where the pages are served; ``base_url`` is what links in notices begin with.

    ``sign_in`` is asked of those who come from ``away``, or ``always``; ``hosts`` are further
    names that the pages answer to; with ``certificate`` and ``key`` they speak TLS.
    """

    host: str = "127.0.0.1"
    port: int = 8484
    base_url: str | None = None
    sign_in: str = "away"
    hosts: tuple[str, ...] = ()
    certificate: Path | None = None
    key: Path | None = None


@dataclass(frozen=True, slots=True)
class Place:
    """Where plants, corms or stems are kept.

    ``bands`` are its own, completed by those of its kind. ``lag_s`` is the time constant
    of what is kept there [s]; ``first_look`` is the one thing to do first; ``cover`` is
    what can be laid over its beds: none, light, heavy, inner; None where not said. ``card`` is
    what whoever is on duty does there.
    """

    id: str
    name: str
    kind: PlaceKind
    bands: Mapping[Quantity, Band] = field(default_factory=dict)
    lag_s: float = 0.0
    deadband_c: float = 0.3
    deadband_pct: float = 2.0
    off_delay_s: float = 120.0
    first_look: str = ""
    cover: str | None = None
    card: Card | None = None


@dataclass(frozen=True, slots=True)
class Person:
    """Someone to tell; each address is an apprise address, and a secret.

    ``role`` is what this person may do on the pages, once a password is set.
    ``pictures`` are the addresses, counted from 1, that get a chart with an alarm.
    ``language`` is what pages and messages speak to them; None as browser and farm have it.
    ``speak`` turns a message's texts into that language.
    """

    id: str
    name: str
    addresses: tuple[SecretStr, ...] = ()
    role: Role = Role.HELP
    pictures: frozenset[int] = frozenset()
    language: str | None = None
    speak: Translate = field(default=in_english, compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class NoticeRules:
    """Who is told, and when; times of day are the farm's.

    Covers are spoken of from ``covers_before_s`` before sunset, where the chance of the
    limit is at least ``frost_chance`` (0 to 1); opening where ``open_at_c`` will be passed.
    ``digest`` is how often all is summed up: weekly, daily or off.
    """

    remind_after_s: float = 1800.0
    quiet_from: time | None = None
    quiet_until: time | None = None
    escalate_after_s: float = 900.0
    morning_at: time = time(7)
    frost_chance: float = 0.2
    covers_before_s: float = 7200.0
    open_at_c: float = (75.0 - 32.0) / 1.8
    digest: str = "weekly"
    send_to: Mapping[Priority, tuple[str, ...]] = field(default_factory=dict)

    def told(self, priority: Priority, people: Mapping[str, Person]) -> tuple[Person, ...]:
        """Return who is told of a priority: everyone, unless the rules name some."""
        if priority not in self.send_to:
            return tuple(people.values())
        return tuple(people[each] for each in self.send_to[priority])


@dataclass(frozen=True, slots=True)
class Farm:
    """A farm as declared in its folder, sound and complete.

    ``texts`` are the files' whole texts by name, literal secrets masked; ``digest`` is the
    SHA-256 of the texts as they stand, in hexadecimal.
    """

    name: str
    zone: ZoneInfo
    latitude: float
    longitude: float
    units: TemperatureUnit
    broker: Broker
    web: Web
    places: Mapping[str, Place]
    sensors: Mapping[str, Sensor]
    crops: Mapping[str, Crop]
    people: Mapping[str, Person]
    notices: NoticeRules
    directory: Path
    watcher: Watcher = field(default_factory=Watcher)
    duty: tuple[Duty, ...] = ()
    mirror: Mirror | None = None
    language: str = "en"
    backup: Backup | None = None
    thin_after_months: int | None = None
    texts: Mapping[str, str] = field(default_factory=dict)
    digest: str = ""

    @property
    def data_dir(self) -> Path:
        """Return where readings and ledger are kept."""
        return self.directory / "data"
