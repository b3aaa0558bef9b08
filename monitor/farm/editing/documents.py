"""Finding and setting things in a TOML document without touching what stands around them."""

from collections.abc import Iterator, Mapping, MutableMapping
from typing import Any, Final

from monitor.errors import FarmError, UnknownNameError

# tomlkit's containers are mappings and lists of many kinds; what is known of each here is
# the plain kind that the forms want.
Table = MutableMapping[str, Any]
_ONE: Final = "a table"


def entries(document: Table, key: str) -> Iterator[Table]:
    """Return the tables of a list of tables, ``[[key]]``."""
    found = document.get(key, [])
    if not isinstance(found, list):
        raise FarmError(f"[{key}] is one table where a list of them is wanted: [[{key}]]")
    yield from found


def entry(document: Table, key: str, id_: str) -> Table:
    """Return the table of a list whose ``id`` is this.

    Raises
    ------
    UnknownNameError
        If there is none.
    """
    for each in entries(document, key):
        if each.get("id") == id_:
            return each
    raise UnknownNameError(f"the file has no {key} with the id {id_}: look at it again")


def remove(document: Table, key: str, id_: str) -> None:
    """Take the table with this id out of a list of tables; the last one takes the list along.

    Raises
    ------
    UnknownNameError
        If there is none.
    """
    kept = entry(document, key, id_)
    tables: Any = document[key]
    del tables[next(number for number, each in enumerate(tables) if each is kept)]
    if not tables:
        document.pop(key)


def under(table: Table, *keys: str) -> Table:
    """Return a table inside, made where it is not there yet.

    Raises
    ------
    FarmError
        If something else stands there.
    """
    import tomlkit  # noqa: PLC0415 - only where a file is changed

    for key in keys:
        if key not in table:
            table[key] = tomlkit.table()
        inner = table[key]
        if not isinstance(inner, MutableMapping):
            raise FarmError(f"{key} is no table in the file: write {_ONE} [{'.'.join(keys)}]")
        table = inner
    return table


def put(table: Table, values: Mapping[str, object | None]) -> None:
    """Set keys, keeping the note beside each; None takes a key out."""
    for key, value in values.items():
        if value is None:
            table.pop(key, None)
        elif table.get(key) != value:
            table[key] = value


def append(document: Table, key: str, values: Mapping[str, object]) -> Table:
    """Add a table to a list of tables and return it, a blank line before it."""
    import tomlkit  # noqa: PLC0415 - only where a file is changed

    made = tomlkit.table()
    made.trivia.indent = "\n"
    for name, value in values.items():
        made[name] = value
    if key not in document:
        document[key] = tomlkit.aot()
    added: Any = document[key]
    added.append(made)
    kept: Table = added[-1]
    return kept


def inline(values: Mapping[str, object]) -> Any:  # noqa: ANN401 - the library's own kind
    """Return a table written on one line, ``{ a = 1, b = 2 }``."""
    import tomlkit  # noqa: PLC0415 - only where a file is changed

    made = tomlkit.inline_table()
    made.update(values)
    return made


__all__ = ["Table", "append", "entries", "entry", "inline", "put", "remove", "under"]
