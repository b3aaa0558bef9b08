"""Making a change that a form asks for, or saying beside the form why not."""

import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

from fastapi import Response
from fastapi.responses import RedirectResponse

from monitor.errors import BusyError, CormwatchError, FarmError, StoreError, UnknownNameError
from monitor.farm.editing import Change
from monitor.phrase import Phrase
from monitor.web.look import Look
from monitor.web.rendering import Pages
from monitor.web.settings.typed import Typed

OLD: Final = Phrase(
    "the monitor was started anew since this page was made, so nothing was done: press once more"
)
_HEAD: Final = re.compile(r"\d+ mistakes? in the files of [^\n]*:\n\s*")
_KEY: Final = re.compile(r"^\w+\.toml(?:: \S+(?: = .*?)?)?: ", re.MULTILINE)


def change(
    pages: Pages, typed: Typed, changes: Sequence[Change], why: str,
    secrets: Mapping[str, str] | None = None,
) -> bool:  # fmt: skip
    """Make changes if the form is sound; return whether they were made."""
    by = typed.by
    if not pages.key.fits(typed.text("form_key")):
        typed.refuse("", OLD)
    if not typed.sound:
        return False
    try:
        pages.desk.reconfigure(
            changes, by=by, why=why, digest=typed.text("digest") or None, secrets=secrets
        )
    except (FarmError, BusyError, StoreError, UnknownNameError) as failure:
        typed.refuse("", in_plain_words(failure))
        return False
    return True


def in_plain_words(failure: CormwatchError) -> str:
    """Return why nothing was written, without the file's own words around it."""
    text = _HEAD.sub("", str(failure))
    if text == str(failure):
        return text
    return Phrase("nothing was changed, it would not fit: ") + _KEY.sub(
        "", text.replace("\n  ", "\n")
    )


def made(path: str) -> Response:
    """Return the way back to a page that shows what was changed."""
    return RedirectResponse(f"{path}?done=1", 303)


def shown(
    pages: Pages, look: Look, template: str, here: str, typed: Typed, *, done: bool = False,
    **told: Any,  # noqa: ANN401 - what templates show
) -> Response:  # fmt: skip
    """Return a page with a form, with what is wrong where it was sent and not done."""
    return pages.page(
        look, template, here, status=422 if typed.sent else 200, typed=typed, done=done,
        digest=typed.shown("digest", look.farm.digest) if "" not in typed.wrong
        else look.farm.digest,
        names=[each.name for each in look.farm.people.values()], **told,
    )  # fmt: skip
