"""A change of the farm's files made by a page or a command, with who made it and why."""

from collections.abc import Mapping, Sequence
from pathlib import Path

from monitor.batches import fold
from monitor.daemon.reloading import check_usable
from monitor.farm import Farm
from monitor.farm.editing import Change, save
from monitor.store import Ledger


def reconfigure(
    directory: Path,
    ledger: Ledger,
    changes: Sequence[Change],
    *,
    by: str,
    why: str,
    now_ms: int,
    digest: str | None = None,
    secrets: Mapping[str, str] | None = None,
) -> Farm:
    """Write changes into the farm's files and keep what they make; a running monitor takes it.

    Parameters
    ----------
    directory : Path
        The farm's folder.
    ledger : Ledger
        Where the accepted configuration is kept, and what stands in the places.
    changes : sequence of Change
        All are made, or none.
    by, why : str
        Who says so, and the reason; kept beside the configuration.
    now_ms : int
        The moment. [ms]
    digest : str, optional
        The farm's digest as it was looked at.
    secrets : mapping, optional
        Texts of new files under ``secrets/``.

    Raises
    ------
    FarmError
        If the farm cannot be used so, or its files changed meanwhile; nothing is written.
    BusyError
        If another change is being written.
    """
    book = fold(ledger.entries())
    farm = save(
        directory, changes, digest=digest, secrets=secrets,
        usable=lambda made: check_usable(made, book),
    )  # fmt: skip
    said = f"{by}: {why}" if why else by
    ledger.accept_configuration(farm.texts, farm.digest, now_ms, said)
    return farm
