"""Texts that remember what they were made of, so that they can be told in another language."""

from collections.abc import Callable, Iterable, Mapping
from typing import Any, ClassVar, Final, Self

LANGUAGES: Final[Mapping[str, str]] = {"en": "English", "es": "Español"}
"""The languages that pages and messages speak, each by its own name."""

Translate = Callable[[str], str]
"""From an English message to that of another language; from an unknown one to itself."""


def in_english(message: str) -> str:
    """Return a message as it is."""
    return message


_PACKED: Final = "say"


class Phrase(str):
    """An English text that remembers its message and what was put into it.

    It is the English text wherever a text is asked for: compared, stored, printed. Only
    where it meets a person is it asked to be ``spoken`` in a language. What is put into it
    may be phrases again. A name without values is a message of its own.

    Parameters
    ----------
    message : str
        The English message, with ``{names}`` as for ``str.format`` where values are given.
    **given : str, int or float
        The values by name.
    """

    __slots__ = ("given", "message")

    message: str
    given: Mapping[str, Any]

    def __new__(cls, message: str, /, **given: object) -> Self:
        """Return the English text."""
        made = super().__new__(cls, message.format_map(given) if given else message)
        made.message, made.given = message, given
        return made

    def __str__(self) -> str:
        """Return the phrase itself, so that an error's text remembers too."""
        return self

    def spoken(self, translate: Translate) -> str:
        """Return the text in another language."""
        if not self.given:
            return translate(self.message)
        values = {name: spoken(each, translate) for name, each in self.given.items()}
        return translate(self.message).format_map(values)

    def __add__(self, more: str, /) -> "Phrase":
        """Return both as one, which remembers both."""
        return together((self, more), "")

    def lower(self) -> "Phrase":
        """Return the phrase without capitals."""
        return Lower(self)

    def packed(self) -> dict[str, Any]:
        """Return what JSON can keep of it; ``unpacked`` reads it."""
        return {_PACKED: self.message, **{name: packed(each) for name, each in self.given.items()}}


class Capital(Phrase):
    """A phrase that begins a sentence: its first letter is a capital in every language."""

    __slots__ = ()

    _shape: ClassVar[str] = "capital"

    def __new__(cls, text: str, /) -> Self:
        """Return the text in this shape."""
        made = str.__new__(cls, cls._shaped(text))
        made.message, made.given = "{text}", {"text": text}
        return made

    @classmethod
    def _shaped(cls, text: str) -> str:
        return text[:1].upper() + text[1:]

    def spoken(self, translate: Translate) -> str:
        """Return the text in another language, in this shape."""
        return self._shaped(str(spoken(self.given["text"], translate)))

    def packed(self) -> dict[str, Any]:
        """Return what JSON can keep of it."""
        return {**super().packed(), "": self._shape}


class Lower(Capital):
    """A phrase within a sentence: without capitals, in every language."""

    __slots__ = ()

    _shape: ClassVar[str] = "lower"

    @classmethod
    def _shaped(cls, text: str) -> str:
        return str.lower(text)


def together(parts: Iterable[str], between: str = " ") -> Phrase:
    """Return parts as one text that remembers each; empty parts are left out."""
    given = {f"p{number}": each for number, each in enumerate(each for each in parts if each)}
    return Phrase(between.join(f"{{{name}}}" for name in given), **given)


def spoken(value: Any, translate: Translate) -> Any:  # noqa: ANN401  # whatever a text is made of
    """Return a phrase in another language, and anything else as it is."""
    return value.spoken(translate) if isinstance(value, Phrase) else value


def packed(value: Any) -> Any:  # noqa: ANN401  # likewise
    """Return a phrase as JSON can keep it, and anything else as it is."""
    return value.packed() if isinstance(value, Phrase) else value


def unpacked(value: Any) -> Any:  # noqa: ANN401  # likewise
    """Return the phrase that was packed, and anything else as it is."""
    if not isinstance(value, Mapping) or _PACKED not in value:
        return value
    given = {name: unpacked(each) for name, each in value.items() if name not in {_PACKED, ""}}
    shape = {"capital": Capital, "lower": Lower}.get(value.get("", ""))
    return shape(given["text"]) if shape else Phrase(value[_PACKED], **given)
