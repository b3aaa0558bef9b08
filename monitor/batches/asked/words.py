"""The words of what is asked, and the farm they are about."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from monitor.batches.book import Book
from monitor.batches.counts import Count, parse_batch_id, parse_count
from monitor.batches.rules import Builder, Writing
from monitor.batches.rules.writing import known
from monitor.errors import LedgerRuleError, UnknownNameError
from monitor.farm import Crop, Farm, parse_when
from monitor.model import Batch
from monitor.phrase import Phrase


class Plan(NamedTuple):
    """What is to be written, and the batch it is about; None where one begins."""

    build: Builder
    batch: int | None


@dataclass(frozen=True, slots=True)
class Asked:
    """Words by their names, as the options of the commands are called; who and when.

    A name that is not given is absent.
    """

    farm: Farm
    book: Book
    writing: Writing
    words: Mapping[str, str]

    def text(self, name: str) -> str | None:
        """Return a word, None where it was not given."""
        return self.words.get(name)

    def needed(self, name: str, why: str) -> str:
        """Return a word that must be given.

        Raises
        ------
        LedgerRuleError
            If it was not.
        """
        found = self.words.get(name)
        if found is None:
            raise LedgerRuleError(
                Phrase("{why} with --{option}", why=why, option=name.replace("_", "-"))
            )
        return found

    def count(self, name: str) -> Count | None:
        """Return a count, exact or rough, None where it was not given."""
        text = self.text(name)
        return None if text is None else parse_count(text)

    def exact(self, name: str) -> int | None:
        """Return an exact count, None where it was not given.

        Raises
        ------
        LedgerRuleError
            If it is rough.
        """
        count = self.count(name)
        if count is not None and count.rough:
            raise LedgerRuleError(
                Phrase(
                    "--{option} takes an exact number, and {text!r} is rough",
                    option=name.replace("_", "-"),
                    text=self.text(name),
                )
            )
        return None if count is None else count.number

    def when(self, name: str) -> int | None:
        """Return a time, None where it was not given. [ms]"""
        text = self.text(name)
        if text is None:
            return None
        return parse_when(text, self.writing.zone, self.writing.now_ms)

    def batch_id(self) -> int:
        """Return the number of the batch that is named."""
        return parse_batch_id(self.words.get("batch", ""))

    def batch(self) -> Batch:
        """Return the batch that is named."""
        return known(self.book, self.batch_id())

    def crop(self) -> Crop:
        """Return the crop of the batch that is named."""
        return crop_of(self.farm, self.batch())


def crop_of(farm: Farm, batch: Batch) -> Crop:
    """Return a batch's crop as the farm knows it now.

    Raises
    ------
    UnknownNameError
        If its file has it no more.
    """
    if batch.crop not in farm.crops:
        raise UnknownNameError(
            Phrase(
                "crops.toml has no crop {crop!r} any more, which batch {batch} is: put it back to "
                "go on with this batch",
                crop=batch.crop,
                batch=batch.id,
            )
        )
    return farm.crops[batch.crop]
