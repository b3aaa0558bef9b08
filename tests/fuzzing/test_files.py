"""A farm's files as a tired hand leaves them: loaded, or refused with what is wrong."""

import tempfile
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from monitor.errors import FarmError
from monitor.farm import check, load
from monitor.farm.starting import Start, starter
from tests.farm.folders import NOW_MS
from tests.fuzzing import drawn

FILES = {name: text.splitlines() for name, text in starter(Start()).items()}
NAMES = sorted(each for each in FILES if each.endswith(".toml"))
ODD = st.one_of(
    st.text(max_size=12),
    st.sampled_from([
        "[", "]]", "=", '"', "'''", "#", "nan", "-inf", "1e999", "99999999999999999999", "{}",
        "[[]]", "true", "2026-02-30", "\ud800", "\0", "[[place]]", "[farm]", '"-400 F"', '"0 s"',
        '"36 F to"', '"99999999 d"', "[[sensor.channel]]", "farm.farm.farm = 1",
    ]),
)  # fmt: skip


@st.composite
def edits(draw: st.DrawFn) -> dict[str, str]:
    """Draw the starter's files with a few lines gone, doubled, moved, torn or changed."""
    files = {name: list(lines) for name, lines in FILES.items()}
    for _ in range(draw(st.integers(1, 4))):
        lines = files[draw(st.sampled_from(NAMES))]
        at = draw(st.integers(0, max(len(lines) - 1, 0)))
        kind = draw(st.sampled_from(["gone", "doubled", "moved", "torn", "value", "new"]))
        if not lines or kind == "new":
            lines.insert(at, draw(ODD))
        elif kind == "gone":
            del lines[at : at + draw(st.integers(1, 6))]
        elif kind == "doubled":
            lines[at:at] = lines[at : at + draw(st.integers(1, 12))]
        elif kind == "moved":
            lines.insert(draw(st.integers(0, len(lines) - 1)), lines.pop(at))
        elif kind == "torn":
            cut = draw(st.integers(0, len(lines[at])))
            lines[at] = lines[at][:cut] + draw(ODD) + lines[at][cut + draw(st.integers(0, 4)) :]
        else:
            lines[at] = f"{lines[at].partition('=')[0]}= {draw(ODD)}"
    return {name: "\n".join(lines) for name, lines in files.items()}


@drawn(25)
@given(edits())
def test_whatever_is_written_is_loaded_or_refused_with_its_place(files: dict[str, str]) -> None:
    """A mistake is a sentence that names its file; ``check`` says no less than ``load``."""
    with tempfile.TemporaryDirectory() as folder:
        for name, text in files.items():
            file = Path(folder) / name
            file.write_bytes(text.encode("utf-8", "surrogatepass"))
            file.chmod(0o600)
        problems = check(Path(folder), {}, NOW_MS)
        refusal = _refusal(Path(folder))
    wrong = [each for each in problems if each.severity == "error"]
    assert (refusal is None) == (wrong == [])
    assert refusal is None or ".toml" in refusal


def _refusal(folder: Path) -> str | None:
    """Return why a farm's files are refused, or None where they are taken."""
    try:
        load(folder, {}, NOW_MS)
    except FarmError as refused:
        return str(refused)
    return None
