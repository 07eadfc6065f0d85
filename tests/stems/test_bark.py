"""Readings over and under bark in one survey, brought to one basis. Arithmetic that can be done in the head."""

from typing import Any

import pytest

from plotmap.model.stem_table import Stems
from plotmap.stems import measure_stems
from tests.survey_example import survey_example

_SPECIES = {"species": ["oak"], "bark_factor": [0.9]}


def _measure(trees: dict[str, list[Any]], bark: str) -> Stems:
    count = len(next(iter(trees.values())))
    rows = {"plot": ["P1"] * count, "species": ["oak"] * count, **trees}
    return measure_stems(survey_example(trees=rows, species=_SPECIES, settings={"stems": {"bark": bark}}))


@pytest.mark.parametrize(
    ("basis", "expected", "how"),
    [
        # 27 cm with 10 mm of bark on each side; factor 0.9
        ("over", [27, 27, 29, 30], ["measured so", "measured so", "bark_mm", "bark_factor"]),
        ("under", [25, 25, 27, 27], ["bark_mm", "bark_mm", "measured so", "measured so"]),
    ],
)
def test_mixed_bases_are_brought_to_that_of_the_settings(
    basis: str, expected: list[float], how: list[str]
) -> None:
    trees = {
        "d1_cm": [27.0] * 4,
        "bark": [None, "over", "under", "under"],
        "bark_mm": [10.0, 10.0, 10.0, None],
    }
    measured = _measure(trees, basis).measured
    assert measured["dbh_cm"].to_list() == pytest.approx(expected)
    assert measured["bark_by"].to_list() == how
    assert measured["correction_mm"].to_list() == pytest.approx([10 * (size - 27) for size in expected])


def test_a_girth_under_bark_is_brought_over_bark_too() -> None:
    measured = _measure({"girth_cm": [27 * 3.141592653589793], "bark": ["under"]}, "over").measured
    assert measured["dbh_cm"].to_list() == pytest.approx([30.0])


def test_a_reading_under_bark_whose_bark_is_not_known_is_an_error() -> None:
    stems = _measure({"d1_cm": [27.0], "bark": ["under"], "species": ["ash"]}, "over")
    (found,) = stems.findings.frame.rows(named=True)
    assert (found["code"], found["severity"], found["row"], found["value"]) == (
        "bark-unknown",
        "error",
        2,
        "ash",
    )
    assert stems.set_aside.rows() == [("trees", "bark not known", 1)]


def test_there_and_back_is_the_same_diameter() -> None:
    for thickness in (None, 12.5):
        under = _measure({"d1_cm": [31.7], "bark_mm": [thickness]}, "under").measured["dbh_cm"].to_list()
        back = _measure({"d1_cm": under, "bark_mm": [thickness], "bark": ["under"]}, "over").measured
        assert back["dbh_cm"].to_list() == pytest.approx([31.7], abs=1e-12)
