"""What a form sent: kept as it was typed, with what is wrong beside each field."""

from collections.abc import Callable, Mapping, Sequence
from typing import Annotated, Final, TypeVar

from fastapi import Depends, Request

from monitor.errors import UnitError
from monitor.phrase import Phrase, together
from monitor.web.asking import NAME_AT_MOST, WHO_AT_MOST
from monitor.web.visitor import ACTING

TEXT_AT_MOST: Final = 200
_FIELDS_AT_MOST: Final = 4000  # the body's own limit comes first, by far
_WAS: Final = "was."
T = TypeVar("T")


class Typed:
    """The fields of one form; ``wrong`` says by field what cannot be so, ``""`` for all of it.

    ``asks`` are the consequences that are to be confirmed before anything is done. A form that
    was not sent yet is empty.
    """

    def __init__(self, sent: Mapping[str, Sequence[str]] | None = None, form: str = "") -> None:
        self.sent: Final = dict(sent or {})
        self.form: Final = form or next(iter(self.sent.get("form", ())), "")
        self.wrong: Final[dict[str, str]] = {}
        self.asks: Final[list[str]] = []

    def of(self, form: str) -> "Typed":
        """Return this where it is of one of a page's several forms, else that form unsent."""
        return self if self.form == form else Typed(form=form)

    def id(self, name: str) -> str:
        """Return the id of a field on its page."""
        return f"{self.form}-{name}" if self.form else name

    def has(self, name: str) -> bool:
        """Return whether a field was sent."""
        return name in self.sent

    def all(self, name: str) -> list[str]:
        """Return every value of a field, as of ticked boxes."""
        return [each.strip() for each in self.sent.get(name, ())]

    def text(self, name: str, at_most: int = TEXT_AT_MOST) -> str:
        """Return a field without spaces around it; one that cannot be kept is refused."""
        text = next(iter(self.all(name)), "")
        if len(text) > at_most:
            self.refuse(
                name,
                Phrase(
                    "at most {at_most} letters, please: this has {number}",
                    at_most=at_most,
                    number=len(text),
                ),
            )
        elif not text.isprintable():
            self.refuse(name, Phrase("that holds a sign that cannot be shown: type it anew"))
        return text

    def needed(self, name: str, sentence: str, at_most: int = NAME_AT_MOST) -> str:
        """Return a field that must not be empty."""
        text = self.text(name, at_most)
        if not text:
            self.refuse(name, sentence)
        return text

    def one_of(self, name: str, among: Sequence[str], sentence: str) -> str:
        """Return a field that is one of some, else ``""``."""
        text = self.text(name)
        if text not in among:
            self.refuse(name, sentence)
            return ""
        return text

    def read(self, name: str, parse: Callable[[str], T]) -> T | None:
        """Return what a field stands for, None where it is empty or cannot be read."""
        text = self.text(name)
        if not text or name in self.wrong:
            return None
        try:
            return parse(text)
        except (UnitError, ValueError) as failure:
            self.refuse(name, str(failure))
            return None

    def touched(self, name: str) -> bool:
        """Return whether a field differs from what stood in it as the page was made."""
        was = next(iter(self.all(_WAS + name)), "")
        return self.has(name) and next(iter(self.all(name)), "") != was

    def was(self, name: str, now: str) -> str:
        """Return what stood in a field as the page was first made."""
        return self.sent.get(_WAS + name, [now])[0]

    def shown(self, name: str, now: str = "") -> str:
        """Return what to show in a field: what was typed, or what it is now."""
        return self.sent.get(name, [now])[0] if name in self.sent else now

    def ticked(self, name: str, value: str, *, now: bool = False) -> bool:
        """Return whether a box or a choice is to be shown as taken."""
        return value in self.sent.get(name, ()) if self.sent else now

    def refuse(self, name: str, sentence: str) -> None:
        """Say what is wrong with a field; the first word stands."""
        self.wrong.setdefault(
            name,
            Phrase("{upper}{sentence}.", upper=sentence[:1].upper(), sentence=sentence[1:]).replace(
                "..", "."
            ),
        )

    def ask(self, consequence: str) -> None:
        """Say what would follow, to be confirmed before it is done."""
        if consequence not in self.asks:
            self.asks.append(consequence)

    @property
    def question(self) -> str:
        """Return all that is asked, as the confirmation carries it."""
        return together(self.asks)

    @property
    def sound(self) -> bool:
        """Return whether it may be done: nothing is wrong, and what is asked was confirmed."""
        sure = next(iter(self.all("sure")), "")
        return not self.wrong and (not self.asks or sure == self.question)

    @property
    def by(self) -> str:
        """Return who sends it: whoever is signed in, or else the name that is given."""
        asked = Phrase("your name, please: it is kept with the change")
        return ACTING.get() or self.needed("by", asked, WHO_AT_MOST)

    @property
    def why(self) -> str:
        """Return the reason, which is needed."""
        return self.needed(
            "why", Phrase("say why, please: it is kept with the change"), TEXT_AT_MOST
        )


async def _read(request: Request) -> Typed:
    form = await request.form(max_files=0, max_fields=_FIELDS_AT_MOST)
    sent: dict[str, list[str]] = {}
    for name, value in form.multi_items():
        if isinstance(value, str):
            sent.setdefault(name, []).append(value)
    return Typed(sent)


Sent = Annotated[Typed, Depends(_read)]
"""What a route that takes a form is given."""
