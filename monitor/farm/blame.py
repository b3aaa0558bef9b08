"""Turns what pydantic found into problems that name file, key, value and remedy."""

import json
import types
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final, Union, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from monitor.farm.naming import nearest
from monitor.farm.problem import Problem
from monitor.farm.secret import HIDDEN

SECRET_KEYS: Final = frozenset({"password", "addresses", "heartbeat_url", "secret", "token"})
_WANTED: Final = {
    "int_type": "a whole number is wanted, without quotes",
    "int_from_float": "a whole number is wanted",
    "float_type": "a number is wanted, without quotes",
    "bool_type": "true or false is wanted, without quotes",
    "string_type": "a text in quotes is wanted",
    "list_type": "a list in [ ] is wanted",
    "dict_type": "a table is wanted",
    "model_type": "a table is wanted, as [name] or { key = … }",
    "string_pattern_mismatch": "that is not of the form that is wanted here",
    "too_short": "at least one is wanted",
    "string_too_short": "a text is wanted, and this one is empty",
    "string_too_long": "that is too long",
}
_TABLES: Final = frozenset({"model_type", "dict_type", "list_type", "missing", "extra_forbidden"})


def show(value: object) -> str:
    """Return a value as it may be shown: short, on one line, no address or password."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return str(value)[:40]
    if not isinstance(value, str):
        return ""
    if "://" in value or "@" in value:
        return HIDDEN
    return json.dumps(value if len(value) <= 60 else f"{value[:57]}…", ensure_ascii=False)  # noqa: PLR2004 - a line's worth


def label(entry: object, index: int) -> str:
    """Return what names an entry of a list: its id or quantity, else its number from one."""
    for key in ("id", "quantity"):
        name = entry.get(key) if isinstance(entry, Mapping) else None
        if isinstance(name, str) and name.isascii() and name.replace("-", "_").isidentifier():
            return name
    return str(index + 1)


def key_path(where: str, loc: Sequence[int | str], raw: object) -> str:
    """Return the dotted path of a place within a table that stands at ``where``."""
    path, here = where, raw
    for part in loc:
        if isinstance(part, int):
            here = here[part] if isinstance(here, list) and part < len(here) else None
            path += f"[{label(here, part)}]"
        else:
            here = here.get(part) if isinstance(here, Mapping) else None
            path += f".{part}" if path else part
    return path


def _forms_in(annotation: Any) -> Iterator[type[BaseModel]]:  # noqa: ANN401 - a type form
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    elif get_origin(annotation) in (Union, types.UnionType, list):
        for each in get_args(annotation):
            yield from _forms_in(each)


def _known_keys(form: type[BaseModel], loc: Sequence[int | str]) -> list[str]:
    """Return the keys that the table at ``loc`` may have."""
    for part in loc:
        if isinstance(part, str) and part in form.model_fields:
            form = next(_forms_in(form.model_fields[part].annotation), form)
    return list(form.model_fields)


def unknown_key(file: str, path: str, key: str, known: Sequence[str]) -> Problem:
    """Return the problem of a key that no table here has; its value is never shown."""
    near = nearest(key, known)
    remedy = f"did you mean {near}?" if near else f"known here: {', '.join(known)}"
    return Problem("error", file, path, "", "this key is not known", remedy)


def blame(
    failure: ValidationError, form: type[BaseModel], file: str, where: str, raw: object
) -> Iterator[Problem]:
    """Yield a problem for each thing that is wrong with a table.

    Parameters
    ----------
    failure : ValidationError
        What pydantic found in ``raw`` against ``form``.
    form : type
        The form of the table.
    file, where : str
        The file, and the path of the table in it.
    raw : object
        The table as read.
    """
    for error in failure.errors(include_url=False):
        loc = [part for part in error["loc"] if part != "[key]"]
        path = key_path(where, loc, raw)
        if error["type"] == "extra_forbidden":
            yield unknown_key(file, path, str(loc[-1]), _known_keys(form, loc[:-1]))
        else:
            secret = any(part in SECRET_KEYS for part in loc)
            value = "" if error["type"] in _TABLES else show(error["input"])
            message, remedy = _said(error, str(loc[-1]) if loc else "")
            yield Problem(
                "error", file, path, HIDDEN if secret and value else value, message, remedy
            )


def _said(error: ErrorDetails, key: str) -> tuple[str, str]:
    """Return what is wrong, and the remedy."""
    kind, context = error["type"], error.get("ctx", {})
    if kind == "missing":
        return "this key is missing", f"add it: {key} = …"
    if kind in ("enum", "literal_error"):
        return _choice(str(error["input"]), str(context["expected"]))
    if kind in ("value_error", "assertion_error"):
        message, _, remedy = str(context["error"]).partition(": ")
        return message, remedy or "correct it"
    if kind in _WANTED:
        return _WANTED[kind], "correct it"
    return error["msg"].replace("Input should", "this should"), "correct it"


def _choice(given: str, expected: str) -> tuple[str, str]:
    choices = [each.strip().strip("'") for each in expected.replace(" or ", ", ").split(",")]
    near = nearest(given, choices)
    hint = f"did you mean {near}? " if near else ""
    return "this is none of the choices", f"{hint}choose {' or '.join(choices)}"
