"""Section [layout]: ranges from both sides, and what does not go together."""

from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from plotmap.model.settings_layout import LayoutSection


def section(**keys: Any) -> LayoutSection:
    """Return [layout] with these keys."""
    return LayoutSection.model_validate(keys)


@pytest.mark.parametrize(
    ("key", "allowed", "refused"),
    [
        ("seed", [0, 2**53], [-1, 2**53 + 1, 1.5]),
        ("n_plots", [1, 100_000], [0, 100_001]),
        ("spacing_m", [1, 100_000], [0.9, 100_001, float("nan")]),
        ("strip_ratio", [1, 100], [0.9, 101]),
        ("bearing_deg", [0, 359.9], [-1, 360]),
        ("min_per_stratum", [1, 1000], [0, 1001]),
        ("cv_pct", [0.1, 1000], [0, 1001]),
        ("plots_per_day", [1, 200], [0, 201]),
        ("enough_plots", [1, 1000], [0, 1001]),
        ("reserve", [0, 1000], [-1, 1001]),
        ("start", [[0, 30_000_000]], [[1], [1, 2, 3], [0, 30_000_001]]),
        ("method", ["square", "triangular", "strips", "random", "balanced"], ["hexagon"]),
        ("allocation", ["proportional", "neyman"], ["optimum"]),
    ],
)
def test_both_sides_of_each_range(key: str, allowed: list[Any], refused: list[Any]) -> None:
    for value in allowed:
        assert getattr(section(**{key: value}), key) in (value, tuple(value) if key == "start" else value)
    for value in refused:
        with pytest.raises(ValidationError, match=key):
            section(**{key: value})


def test_crew_days_are_above_none_and_need_the_plots_of_a_day() -> None:
    assert section(crew_days=0.5, plots_per_day=8).crew_days == 0.5
    with pytest.raises(ValidationError, match="greater than 0"):
        section(crew_days=0, plots_per_day=8)
    with pytest.raises(ValidationError, match="crew_days needs plots_per_day"):
        section(crew_days=3)


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({"method": "random", "spacing_m": 50}, "do not fit method = 'random'"),
        ({"method": "balanced", "bearing_deg": 10}, "do not fit method = 'balanced'"),
        ({"spacing_m": 50, "n_plots": 9}, "both given"),
        ({"spacing_m": 50, "allocation": "neyman"}, "one density"),
        ({"cv_pct": 50, "pilot": "old"}, "both given"),
    ],
)
def test_what_does_not_go_together_is_refused(keys: dict[str, Any], said: str) -> None:
    with pytest.raises(ValidationError, match=said):
        section(**keys)


def test_a_stated_stratum_may_stand_beside_either_source() -> None:
    assert section(cv_pct_by_stratum={"dry": 70}, pilot="old").cv_pct_by_stratum == {"dry": 70}
    with pytest.raises(ValidationError, match="cv_pct_by_stratum"):
        section(cv_pct_by_stratum={"dry": 0})
