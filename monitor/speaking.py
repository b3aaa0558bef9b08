"""In which language pages are being made, and templates that speak it."""

from collections.abc import Iterable
from contextvars import ContextVar
from typing import Any, Final

from jinja2 import Environment, FileSystemLoader, StrictUndefined, pass_context
from jinja2.runtime import Context
from markupsafe import Markup

from monitor.languages import ENGLISH, in_language, translator
from monitor.phrase import Capital, Phrase, together
from monitor.resources import dashboards_dir

LANGUAGE: Final[ContextVar[str]] = ContextVar("language", default=ENGLISH)
"""The language of the page that is being made."""


def said(value: Any) -> Any:  # noqa: ANN401  # whatever a template shows
    """Return a text in the page's language, and anything else as it is."""
    return in_language(value, LANGUAGE.get()) if isinstance(value, Phrase) else value


def templates() -> Environment:
    """Return the templates: nothing unescaped, every phrase in the page's language."""
    made = Environment(
        loader=FileSystemLoader(dashboards_dir() / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=["jinja2.ext.i18n"],
        finalize=said,
    )
    made.policies["ext.i18n.trimmed"] = True
    made.newstyle_gettext = True  # type: ignore[attr-defined]  # the extension's own
    made.globals |= {"gettext": _gettext, "_": _gettext, "language": LANGUAGE.get, "named": Phrase}
    made.filters |= {"join": _join, "capital": Capital}
    return made


@pass_context
def _gettext(_: Context, message: str, /, **given: object) -> Markup:
    """Return a message of a template; the templates' own, so it may carry markup."""
    text = Markup(translator(LANGUAGE.get())(message))  # noqa: S704  # no stranger writes these
    return text % {name: said(each) for name, each in given.items()}


def _join(parts: Iterable[str], between: str = "") -> Phrase:
    return together(map(str, parts), between)
