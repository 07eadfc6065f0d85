"""Stems against figures that others have published, against an open data set, and against plane geometry."""

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from scipy.special import ellipe

from plotmap.stems import measure_stems
from plotmap.stems.girth import belt_cm, diameter_in_belt_cm
from tests.survey_example import survey_example

_M2_PER_CM2 = math.pi / 40_000
_LONGLEAF = Path(__file__).parent.parent / "data" / "longleaf.csv"


def _dbh_cm(trees: dict[str, Sequence[Any]], **others: Any) -> list[float]:
    """Return diameters of stems on one plot; keywords are tables, or settings of the stems."""
    tables = {name: others.pop(name) for name in ("instruments",) if name in others}
    count = len(next(iter(trees.values())))
    survey = survey_example(trees={"plot": ["P1"] * count, **trees}, settings={"stems": others}, **tables)
    return measure_stems(survey).measured["dbh_cm"].to_list()


# Brack & Wood 1998 (Australian National University), "Calipers and tapes": which mean of the axes of an
# elliptical section gives its area. The rule is theirs; the figures are geometry of the ellipse.
@pytest.mark.parametrize(
    ("axes", "section", "excess_pct"),
    [
        ((44, 36), "arithmetic", 1.010),
        ((44, 36), "quadratic", 2.020),
        ((44, 36), "geometric", 0.0),
        ((50, 30), "arithmetic", 6.667),
        ((50, 30), "quadratic", 13.333),
        ((50, 30), "geometric", 0.0),
    ],
)
def test_means_of_the_axes_of_an_ellipse_exceed_its_area(
    axes: tuple[float, float], section: str, excess_pct: float
) -> None:
    (dbh,) = _dbh_cm(
        {"d1_cm": [axes[0]], "d2_cm": [axes[1]]}, section=section, max_reading_difference_pct=100
    )
    assert (dbh**2 / (axes[0] * axes[1]) - 1) * 100 == pytest.approx(excess_pct, abs=5e-4)


@pytest.mark.parametrize(("axes", "excess_pct"), [((44, 36), 1.516), ((50, 30), 10.039)])
def test_the_girth_of_an_ellipse_exceeds_its_area(axes: tuple[float, float], excess_pct: float) -> None:
    # the perimeter of an ellipse is 4 a E(e²), with the complete elliptic integral of the second kind
    girth = 2 * axes[0] * ellipe(1 - (axes[1] / axes[0]) ** 2)
    (dbh,) = _dbh_cm({"girth_cm": [girth]})
    assert (dbh**2 / (axes[0] * axes[1]) - 1) * 100 == pytest.approx(excess_pct, abs=5e-4)


def test_the_girth_of_the_ellipse_of_44_by_36_cm_reads_as_40_cm() -> None:
    # Brack & Wood 1998, the rule; girth 125.97806 cm, 40.100063 cm and area 1244.0707 cm² are geometry
    girth = 2 * 44 * ellipe(1 - (36 / 44) ** 2)
    assert girth == pytest.approx(125.97806, abs=5e-6)
    (by_girth,) = _dbh_cm({"girth_cm": [girth]})
    assert by_girth == pytest.approx(40.100063, abs=5e-7)
    (exact,) = _dbh_cm({"d1_cm": [44.0], "d2_cm": [36.0]}, section="geometric")
    assert math.pi / 4 * exact**2 == pytest.approx(1244.0707, abs=5e-5)


@pytest.mark.parametrize(("climber_cm", "belt_over_pi_cm"), [(4.0, 31.178829), (30.0, 49.098593)])
def test_a_belt_round_a_stem_of_30_cm_and_its_climber(climber_cm: float, belt_over_pi_cm: float) -> None:
    # geometry of a belt round two touching circles, needs no source
    assert float(belt_cm(30.0, climber_cm)) / math.pi == pytest.approx(belt_over_pi_cm, abs=5e-7)
    (stem,) = diameter_in_belt_cm([belt_over_pi_cm * math.pi], [climber_cm])
    assert stem == pytest.approx(30.0, abs=1e-6)
    dbh = _dbh_cm({"girth_cm": [belt_over_pi_cm * math.pi], "climber_mm": [climber_cm * 10]})
    assert dbh == pytest.approx([30.0], abs=1e-6)


# Geometry of the jaw: stem on the beam, jaw leaning by θ, reading = d / 2 · (1 + (1 − sin θ) / cos θ).
@pytest.mark.parametrize(
    ("lean_deg", "error_pct"), [(0.5, -0.4344), (1.0, -0.8651), (2.0, -1.7156), (-1.0, 0.8804)]
)
def test_a_leaning_jaw_is_put_right_by_the_check_bar_and_not_by_a_zero(
    lean_deg: float, error_pct: float
) -> None:
    lean = math.radians(lean_deg)
    share = (1 + (1 - math.sin(lean)) / math.cos(lean)) / 2
    true_cm = [12.0, 40.0, 75.0]
    trees = {"d1_cm": [size * share for size in true_cm], "instrument": ["C"] * 3}
    closed = {"instrument": ["C"], "date": ["2026-05-01"], "zero_mm": [0.0]}
    by_zero = _dbh_cm(trees, instruments=closed)
    errors_pct = [(dbh / size - 1) * 100 for dbh, size in zip(by_zero, true_cm, strict=True)]
    assert errors_pct == pytest.approx([error_pct] * 3, abs=5e-5)
    barred = {**closed, "bar_mm": [300.0], "bar_reading_mm": [300 * share]}
    assert _dbh_cm(trees, instruments=barred) == pytest.approx(true_cm, abs=1e-9)


@pytest.mark.parametrize(
    ("lean_deg", "error_pct"), [(0.5, -0.4344), (1.0, -0.8651), (2.0, -1.7156), (-1.0, 0.8804)]
)
def test_the_log_tells_the_lean_of_the_jaw(lean_deg: float, error_pct: float) -> None:
    # geometry of the jaw, as above: a bar of 300 mm read with the error a lean means gives the lean back
    bar = {"bar_mm": [300.0], "bar_reading_mm": [300 * (1 + error_pct / 100)]}
    checks = {"instrument": ["C"], "date": ["2026-05-01"], **bar}
    survey = survey_example(trees={"plot": ["P1"], "d1_cm": [30.0], "instrument": ["C"]}, instruments=checks)
    log = measure_stems(survey).instrument_log
    assert log["lean_deg"].to_list() == pytest.approx([lean_deg], abs=2e-4)


def test_the_effect_of_the_means_of_an_ellipse_is_told() -> None:
    # Brack & Wood 1998, the rule; ellipse 44 by 36 cm, geometry: against its true area (geometric mean) the
    # arithmetic mean is 1.010 %, the quadratic 2.020 % and the girth 1.516 % too large
    girth = 2 * 44 * ellipe(1 - (36 / 44) ** 2)
    survey = survey_example(
        trees={"plot": ["P1"], "d1_cm": [44.0], "d2_cm": [36.0], "girth_cm": [girth]},
        settings={"stems": {"section": "geometric"}},
    )
    effect = measure_stems(survey).section_effect
    assert effect["mean"].to_list() == ["arithmetic", "geometric", "quadratic", "girth"]
    assert effect["difference_pct"].to_list() == pytest.approx([1.010, 0, 2.020, 1.516], abs=5e-4)
    assert effect["basal_area_used_m2"].to_list() == pytest.approx([0.12440707] * 4, abs=5e-9)


@pytest.mark.parametrize(("rounding", "stems_per_ha"), [("down", 242.23), ("none", 259.84)])
def test_diameters_rounded_down_get_half_a_unit_back(rounding: str, stems_per_ha: float) -> None:
    # published worked example of an angle count of 4 m²/ha with a stem of 14 cm rounded down: it stands
    # for 4 / g = 242.23 stems/ha, and for 259.84 if the half centimetre is forgotten
    (dbh,) = _dbh_cm({"d1_cm": [14.0]}, rounding=rounding)
    assert 4 / (_M2_PER_CM2 * dbh**2) == pytest.approx(stems_per_ha, abs=0.005)


def test_a_girth_rounded_down_gets_half_a_centimetre_of_girth_back() -> None:
    # common practice, no source: a girth of 44 cm that was cut off is 44.5 cm on average
    assert _dbh_cm({"girth_cm": [44.0]}, rounding="down") == pytest.approx([44.5 / math.pi])


# R `datasets::trees` (Ryan, Joiner & Ryan 1976, The Minitab Student Handbook): 31 felled black cherries. Its
# column "Girth" holds diameters in inches, a well-known trap; heights are in feet.
_CHERRY_IN = [8.3, 8.6, 8.8, 10.5, 10.7, 10.8, 11.0, 11.0, 11.1, 11.2, 11.3, 11.4, 11.4, 11.7, 12.0, 12.9]
_CHERRY_IN += [12.9, 13.3, 13.7, 13.8, 14.0, 14.2, 14.5, 16.0, 16.3, 17.3, 17.5, 17.9, 18.0, 18.0, 20.6]
_CHERRY_FT = [70, 65, 63, 72, 81, 83, 66, 75, 80, 75, 79, 76, 76, 69, 75, 74, 85, 86, 71, 64, 78, 80, 74, 72]
_CHERRY_FT += [77, 81, 82, 80, 80, 80, 87]


def _cherries(column: str) -> tuple[float, float, set[str]]:
    """Return basal area in m², dg in cm and the findings, with the sizes given in one column."""
    trees = {
        "plot": ["P1"] * 31,
        column: [size * 2.54 for size in _CHERRY_IN],
        "height_m": [height * 0.3048 for height in _CHERRY_FT],
    }
    stems = measure_stems(survey_example(trees=trees))
    squares = stems.measured["square_cm2"]
    return squares.sum() * _M2_PER_CM2, math.sqrt(squares.sum() / squares.len()), stems.findings.codes


def test_black_cherries_have_the_basal_area_of_their_diameters() -> None:
    # G and dg computed in R and in numpy
    basal_area, dg, codes = _cherries("d1_cm")
    assert basal_area == pytest.approx(2.906752789, abs=5e-10)
    assert dg == pytest.approx(34.55240339, abs=5e-9)
    assert codes == set()


def test_black_cherries_read_as_girths_are_found_out_by_their_slenderness() -> None:
    _, dg, codes = _cherries("girth_cm")
    assert dg == pytest.approx(10.998372, abs=5e-7)
    assert codes == {"girth-like-diameter", "height-not-plausible"}


# longleaf (Platt, Evans & Rathbun 1988; R package spatstat.data): every pine on 4 ha, dbh in cm.
_TRUTH_M2_PER_HA = 12.109384140


def _longleaf_dbh() -> list[float]:
    return pl.read_csv(_LONGLEAF)["dbh"].cast(pl.Float64).to_list()


def _class_counts(width_cm: float, edge: str) -> dict[str, int]:
    """Return stems by class label of all longleaf pines, measured one by one."""
    dbh = _longleaf_dbh()
    survey = survey_example(
        trees={"plot": ["P1"] * len(dbh), "d1_cm": dbh},
        settings={"classes": {"width_cm": width_cm, "edge": edge}},
    )
    counts = measure_stems(survey).measured.group_by("class_index").len().sort("class_index")
    return {survey.settings.class_rule.label(index): count for index, count in counts.iter_rows()}


@pytest.mark.parametrize(
    ("edge", "counts"),
    [("lower", [154, 91, 68, 104, 95, 57, 13, 2]), ("upper", [156, 91, 66, 104, 97, 55, 13, 2])],
)
def test_longleaf_pines_fall_in_classes_by_the_edge_that_belongs(edge: str, counts: list[int]) -> None:
    # counted in R and in numpy from the published coordinates and diameters
    assert list(_class_counts(10, edge).values()) == counts


def test_longleaf_pines_measured_one_by_one_have_the_basal_area_of_the_census() -> None:
    squares = sum(dbh**2 for dbh in _dbh_cm({"d1_cm": _longleaf_dbh()}))
    assert squares * _M2_PER_CM2 / 4 == pytest.approx(_TRUTH_M2_PER_HA, abs=5e-10)


@pytest.mark.parametrize("width_cm", [5, 10])
@pytest.mark.parametrize("edge", ["lower", "upper"])
def test_longleaf_pines_tallied_in_classes_keep_their_basal_area_within_one_per_cent(
    width_cm: float, edge: str
) -> None:
    # one per cent is what is asked of a class tally here (our own bound, no source); midpoints are the rival
    counts = _class_counts(width_cm, edge)
    tallies = {"plot": ["P1"] * len(counts), "class": list(counts), "count": list(counts.values())}
    survey = survey_example(tallies=tallies, settings={"classes": {"width_cm": width_cm, "edge": edge}})
    tallied = measure_stems(survey).tallied
    by_density = (tallied["count"] * tallied["square_cm2"]).sum() * _M2_PER_CM2 / 4
    middles = [(index + 0.5) * width_cm for index in tallied["class_index"]]
    by_middle = sum(n * d**2 for n, d in zip(counts.values(), middles, strict=True)) * _M2_PER_CM2 / 4
    assert tallied["count"].sum() == 584
    assert by_density == pytest.approx(_TRUTH_M2_PER_HA, rel=0.01)
    assert abs(by_density - _TRUTH_M2_PER_HA) < abs(by_middle - _TRUTH_M2_PER_HA)


def test_longleaf_pines_tallied_in_bands_keep_their_basal_area() -> None:
    # four bands of 20 cm, shared out over classes of 5 cm: within three per cent (our own bound, no source)
    bands = [{"name": f"b{low}", "low_cm": low, "high_cm": low + 20} for low in (0, 20, 40, 60)]
    dbh = _longleaf_dbh()
    counts = [sum(band["low_cm"] <= size < band["high_cm"] for size in dbh) for band in bands]
    tallies = {"plot": ["P1"] * 4, "class": [band["name"] for band in bands], "count": counts}
    survey = survey_example(tallies=tallies, settings={"classes": {"bands": bands}})
    tallied = measure_stems(survey).tallied
    assert tallied["count"].sum() == pytest.approx(584, abs=1e-9)
    basal_area = (tallied["count"] * tallied["square_cm2"]).sum() * _M2_PER_CM2 / 4
    by_middle = sum(n * (band["low_cm"] + 10) ** 2 for n, band in zip(counts, bands, strict=True))
    assert basal_area == pytest.approx(_TRUTH_M2_PER_HA, rel=0.03)
    assert abs(basal_area - _TRUTH_M2_PER_HA) < abs(by_middle * _M2_PER_CM2 / 4 - _TRUTH_M2_PER_HA)
