"""Opening the farm and its ledger for a command."""

import argparse
import importlib
import importlib.util
from collections.abc import Mapping

from monitor.cli.common import farm_dir
from monitor.errors import StoreError
from monitor.farm import Farm, load
from monitor.model import PlaceState
from monitor.store import Ledger


def load_farm(args: argparse.Namespace, *, secrets_needed: bool = False) -> Farm:
    """Load the farm that the command line names; few commands need its secrets.

    Raises
    ------
    FarmError
        If its files cannot be used; every mistake is named.
    """
    return load(farm_dir(args), secrets_needed=secrets_needed)


def open_ledger(farm: Farm) -> Ledger:
    """Open the farm's ledger, making it on its first use; the caller closes it.

    Raises
    ------
    StoreError
        If the data folder cannot be made, or the ledger not be opened.
    """
    try:
        farm.data_dir.mkdir(parents=True, exist_ok=True)
    except OSError as failure:
        raise StoreError(
            f"{farm.data_dir} cannot be made: {failure.strerror}; mend the folder's permissions"
        ) from failure
    return Ledger.open(farm.data_dir / "ledger.db")


def batch_states(farm: Farm, now_ms: int) -> Mapping[int, PlaceState]:
    """Return how each open batch stands, as the watch judges the newest readings."""
    name = "monitor.daemon.survey"
    if importlib.util.find_spec(name) is None:
        return {}
    states: Mapping[int, PlaceState] = importlib.import_module(name).batch_states(farm, now_ms)
    return states
