"""Published figures of comparing two measurements of the same things."""

from __future__ import annotations

import pytest

from plotmap.stems import compare_checks, measure_stems
from tests.survey_example import survey_example

LARGE = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
SMALL = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451]


def test_two_flow_meters_agree_as_bland_and_altman_say() -> None:
    """Bland & Altman 1986, Lancet 327: 307-310, from memory: first readings of 17 people with a large and a
    mini flow meter in l/min, here taken for mm: mean difference -2.1, s 38.8, 95 % interval of the mean
    -22.0 to 17.8, limits of agreement at two s -79.7 and 75.5 (the 1.96 s of ours are a little narrower).
    """  # noqa: D205
    numbers = [str(number) for number in range(len(LARGE))]
    survey = survey_example(
        trees={"plot": ["P1"] * 17, "tree": numbers, "d1_cm": [value / 10 for value in LARGE]},
        check_trees={"plot": ["P1"] * 17, "tree": numbers, "d1_cm": [value / 10 for value in SMALL]},
    )
    row = compare_checks(survey, measure_stems(survey)).summary.row(0, named=True)
    assert row["bias_mm"] == pytest.approx(-2.1, abs=0.05)
    assert row["sd_mm"] == pytest.approx(38.8, abs=0.05)
    assert row["bias_low_mm"] == pytest.approx(-22.0, abs=0.1)
    assert row["bias_high_mm"] == pytest.approx(17.8, abs=0.1)
    two_s = 2 / 1.96
    low, high = ((row[f"agreement_{end}_mm"] - row["bias_mm"]) * two_s for end in ("low", "high"))
    assert row["bias_mm"] + low == pytest.approx(-79.7, abs=0.1)
    assert row["bias_mm"] + high == pytest.approx(75.5, abs=0.1)
