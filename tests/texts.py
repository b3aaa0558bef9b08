"""Every text that a person may read, found in the templates and in the code.

``python -m tests.texts`` adds those that a language's file lacks, to be translated, and takes
out those that nobody says any more.
"""

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import polib

from monitor.phrase import LANGUAGES
from monitor.resources import config_dir, dashboards_dir
from monitor.speaking import templates

_ROOT: Final = Path(__file__).resolve().parents[1]
FOLDER: Final = dashboards_dir() / "languages"


def texts(*, wordless: bool = False) -> dict[str, str]:
    """Return where each message is said first: a file of templates or of code.

    Those without a word of their own need no translation, and may have one: for their order.
    """
    found: dict[str, str] = {}
    for where, message in (*_in_templates(), *_in_code(), *_in_crops()):
        if wordless or re.search(r"[^\W\d_]", re.sub(r"\{[^}]*\}", "", message)):
            found.setdefault(message, where)
    return found


def _in_crops() -> Iterator[tuple[str, str]]:
    """Yield the names of the crops and stages that travel with the program."""
    crops = tomllib.loads((config_dir() / "crops.toml").read_text("utf-8"))["crop"]
    for crop in crops:
        yield "crops.toml", crop["name"]
        for stage in crop["stage"]:
            yield "crops.toml", stage.get("name", stage["id"].replace("_", " "))


def _in_templates() -> Iterator[tuple[str, str]]:
    made = templates()
    for path in sorted((dashboards_dir() / "templates").glob("*.html")):
        for _, _, message in made.extract_translations(path.read_text("utf-8")):  # type: ignore[attr-defined]
            yield path.name, message if isinstance(message, str) else message[0]


def _in_code() -> Iterator[tuple[str, str]]:
    for path in sorted((_ROOT / "monitor").rglob("*.py")):
        source = path.read_text("utf-8")
        if "Phrase(" not in source or path.name == "phrase.py":
            continue
        for node in ast.walk(ast.parse(source)):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Phrase":
                yield from ((str(path.relative_to(_ROOT)), each) for each in _literals(node))


def _literals(call: ast.Call) -> Iterator[str]:
    """Yield the message of a phrase; both where it depends."""
    for node in ast.walk(call.args[0]) if call.args else ():
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            yield node.value


def brought_up_to_date(language: str) -> polib.POFile:
    """Return a language's file with what is said now, and nothing else."""
    file: polib.POFile = polib.pofile(str(FOLDER / f"{language}.po"))
    known = {each.msgid: each for each in file}
    file[:] = []
    needed = texts()
    for message, where in texts(wordless=True).items():
        if message not in needed and message not in known:
            continue
        entry = known.get(message) or polib.POEntry(msgid=message, msgstr="")
        entry.occurrences, entry.flags = [(where, "")], _flags(message)
        file.append(entry)
    return file


def _flags(message: str) -> list[str]:
    if "%(" in message:
        return ["python-format"]
    return ["python-brace-format"] if "{" in message else []


if __name__ == "__main__":
    for each in sorted(set(LANGUAGES) - {"en"}):
        brought_up_to_date(each).save()
