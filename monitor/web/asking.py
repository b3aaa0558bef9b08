"""What a form or a program may ask for: names, reasons, hours, and the way back to a page."""

from typing import Annotated, Final, Literal

from pydantic import BaseModel, BeforeValidator, Field, StringConstraints

from monitor.alarms import Quiet
from monitor.batches import plain_text
from monitor.model import Answer
from monitor.web.visitor import ACTING

NAME_AT_MOST: Final = 60
WHO_AT_MOST: Final = plain_text.NAME_AT_MOST
_HOUR_MS: Final = 3_600_000
Name = Annotated[
    str, StringConstraints(strip_whitespace=True, min_length=1, max_length=NAME_AT_MOST)
]
Who = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=WHO_AT_MOST)]
Hours = Annotated[int, Field(ge=1, le=24)]


class Asked(BaseModel):
    """Who asks: whoever is signed in, and only at this computer the name that is given."""

    by: Annotated[Who, BeforeValidator(lambda given: ACTING.get() or given)] = Field(
        "", validate_default=True
    )


class Quieting(Asked):
    """Who keeps an alarm quiet, why, for how long [h], and whether its end ends that too."""

    why: Name
    hours: Hours
    once: bool = False

    def quiet(self, now_ms: int) -> Quiet:
        """Return how the alarm is to be put aside from now on."""
        return Quiet(self.by, self.why, now_ms + self.hours * _HOUR_MS, once=self.once)


class Form(BaseModel):
    """What every form of a page sends; ``back`` is the page it stands on."""

    form_key: str = Field("", max_length=100)
    back: str = Field("/", max_length=200)

    def own_path(self) -> str:
        """Return the page to go back to; anything but a path of these pages is the first."""
        back = self.back
        plain = back.startswith("/") and back.isascii() and back.isprintable()
        return back if plain and not back.startswith(("//", "/\\")) else "/"


class Seen(Form, Asked):
    """What the form of an alarm sends."""

    answer: Annotated[Answer, Field(strict=False)] = Answer.SEEN


class Quieted(Form, Quieting):
    """What the form that keeps an alarm quiet sends."""


class Scored(Form, Asked):
    """What the form of an alarm that is over sends."""

    verdict: Literal["real", "needless"]
