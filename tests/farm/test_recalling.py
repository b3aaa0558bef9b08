"""Earlier configurations, read again from the texts that were kept."""

from pathlib import Path

import pytest

from monitor.errors import FarmError
from monitor.farm import declared_ids, load, places_of_sensors, recall
from monitor.model import Quantity
from tests.cli.small_farm import CROPS, FARM, small_farm


def test_kept_texts_give_back_limits_and_sensors(tmp_path: Path) -> None:
    """What a configuration said is what the farm loaded from the same texts says."""
    farm = load(small_farm(tmp_path))
    found = recall(farm.texts)
    assert found is not None
    assert found.crops == farm.crops
    assert found.sensors == farm.sensors
    assert found.places == farm.places


def test_a_limit_changed_since_is_recalled_as_it_was() -> None:
    """The old text's limit is told, whatever the folder says today."""
    old = CROPS.replace('high = "40 F"', 'high = "41 F"')
    found = recall({"farm.toml": FARM, "crops.toml": old})
    assert found is not None
    ideal = found.crops["ranunculus"].stages["cut_stems"].bands[Quantity.TEMPERATURE].ideal
    assert ideal is not None
    assert ideal.high == pytest.approx(5.0)  # 41 °F exactly


@pytest.mark.parametrize("text", ["", "[farm", "# withheld: this file holds a secret\n"])
def test_texts_that_cannot_be_read_give_nothing(text: str) -> None:
    """No farm table, or no TOML: nothing is recalled, and nothing is raised."""
    assert recall({"farm.toml": text, "crops.toml": CROPS}) is None


def test_ids_and_places_are_read_from_texts_that_today_refuses() -> None:
    """Whatever else is wrong in a text, the ids and the places that it names are known."""
    text = '[[sensor]]\nid = "a"\nplace = "barn"\nunheard_of = 1\n[[sensor]]\nplace = "x"\n'
    assert places_of_sensors({"farm.toml": text}) == {"a": "barn"}
    assert declared_ids([text, "[[sensor", 'sensor = "b"', text], "sensor") == {"a"}
    assert places_of_sensors({"farm.toml": "[farm"}) is None


def test_roots_and_covers_are_the_farms_own(tmp_path: Path) -> None:
    """Length, share and cover are read with their units; a length that cannot be is refused."""
    small_farm(tmp_path)
    roots = '[crop.roots]\nlength = "0.5 in"\nshare = "70 %"\ntoo_long = "30 mm"\n'
    crops = CROPS.replace('name = "Ranunculus"\n', f'name = "Ranunculus"\n{roots}', 1)
    (tmp_path / "crops.toml").write_text(crops)
    covered = FARM.replace('kind = "tunnel"\n', 'kind = "tunnel"\ncover = "heavy"\n')
    (tmp_path / "farm.toml").write_text(covered)
    farm = load(tmp_path)
    rule = farm.crops["ranunculus"].roots
    assert (rule.length_mm, rule.share, rule.too_long_mm) == (12.7, 0.7, 30.0)
    assert farm.places["tunnel-2"].cover == "heavy"
    (tmp_path / "crops.toml").write_text(crops.replace('"30 mm"', '"10 mm"'))
    with pytest.raises(FarmError, match="too_long is not over length"):
        load(tmp_path)
