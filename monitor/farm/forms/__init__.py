"""The farm's files as they are written: pydantic models, one module a file."""

from monitor.farm.forms.crops_file import CropForm, KindForm, StageForm
from monitor.farm.forms.farm_file import (
    BrokerForm,
    FarmForm,
    NoticesForm,
    PagesForm,
    PlaceForm,
    SensorForm,
    TlsForm,
)
from monitor.farm.forms.mirror_table import MirrorForm
from monitor.farm.forms.people_file import DutyForm, PersonForm
from monitor.farm.forms.upkeep_tables import BackupForm, HistoryForm
from monitor.farm.forms.watcher_table import CardForm, WatcherForm

__all__ = [
    "BackupForm", "BrokerForm", "CardForm", "CropForm", "DutyForm", "FarmForm", "HistoryForm",
    "KindForm", "MirrorForm", "NoticesForm", "PagesForm", "PersonForm", "PlaceForm", "SensorForm",
    "StageForm", "TlsForm", "WatcherForm",
]  # fmt: skip
