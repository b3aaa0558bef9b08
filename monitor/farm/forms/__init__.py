"""The farm's files as they are written: pydantic models, one module a file."""

from monitor.farm.forms.crops_file import CropForm, KindForm, StageForm
from monitor.farm.forms.farm_file import (
    BrokerForm,
    FarmForm,
    NoticesForm,
    PlaceForm,
    SensorForm,
    TlsForm,
    WebForm,
)
from monitor.farm.forms.people_file import PersonForm

__all__ = [
    "BrokerForm", "CropForm", "FarmForm", "KindForm", "NoticesForm", "PersonForm", "PlaceForm",
    "SensorForm", "StageForm", "TlsForm", "WebForm",
]  # fmt: skip
