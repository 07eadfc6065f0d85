from __future__ import annotations

import pytest
from pydantic import ValidationError

from plotmap.model.settings_thinning import ThinningSection


def test_the_defaults_are_those_of_the_documents() -> None:
    section = ThinningSection()
    assert (section.likely_from, section.unlikely_to, section.draws, section.seed) == (0.9, 0.1, 500, 1)


def test_one_threshold_for_both_is_allowed_and_more_is_not() -> None:
    assert ThinningSection(likely_from=0.25, unlikely_to=0.25).unlikely_to == 0.25
    with pytest.raises(
        ValidationError, match=r"unlikely_to is 0\.26, but must be at most likely_from, 0\.25"
    ):
        ThinningSection(likely_from=0.25, unlikely_to=0.26)


def test_even_odds_are_not_unlikely() -> None:
    assert ThinningSection(unlikely_to=0.49).unlikely_to == 0.49
    with pytest.raises(ValidationError, match=r"must be less than 0\.5"):
        ThinningSection(unlikely_to=0.5)


@pytest.mark.parametrize(
    "given",
    [{"draws": 99}, {"draws": 10_001}, {"seed": -1}, {"likely_from": 1.0}, {"heavy_share_pct": 0.5}],
    ids=str,
)
def test_what_is_out_of_range_is_refused(given: dict[str, float]) -> None:
    with pytest.raises(ValidationError, match="Input should be"):
        ThinningSection(**given)
