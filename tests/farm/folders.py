"""A farm's folder for tests: the starter, with a line changed here and there."""

from dataclasses import dataclass
from pathlib import Path

from monitor.farm import Farm, Problem, check, load
from monitor.farm.starting import Start, starter

NOW_MS = 1_795_600_000_000  # November 2026


@dataclass(frozen=True)
class Folder:
    """A farm's folder that is changed and looked at."""

    path: Path

    def change(self, file: str, old: str, new: str) -> "Folder":
        """Replace a text that stands in a file; the test is wrong if it does not."""
        text = (self.path / file).read_text(encoding="utf-8")
        if old not in text:
            raise LookupError(old)
        (self.path / file).write_text(text.replace(old, new, 1), encoding="utf-8")
        return self

    def add(self, file: str, text: str) -> "Folder":
        """Add lines at the end of a file."""
        with (self.path / file).open("a", encoding="utf-8") as stream:
            stream.write(f"\n{text}\n")
        return self

    def check(self, **environ: str) -> list[Problem]:
        """Return the problems."""
        return check(self.path, environ, NOW_MS)

    def load(self, **environ: str) -> Farm:
        """Return the farm."""
        return load(self.path, environ, NOW_MS)

    def one(self, key: str, **environ: str) -> Problem:
        """Return the only problem with a key."""
        found = [each for each in self.check(**environ) if each.key == key]
        if len(found) != 1:
            raise LookupError(f"{key}: {[str(each) for each in self.check(**environ)]}")
        return found[0]


def new_folder(path: Path) -> Folder:
    """Write the starter farm into a folder."""
    for file, text in starter(Start()).items():
        (path / file).write_text(text, encoding="utf-8")
        (path / file).chmod(0o600)
    return Folder(path)
