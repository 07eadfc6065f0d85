"""How much plots differ: stated, or worked out from a pilot."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from plotmap.errors import SettingsError
from plotmap.fielddata import read_survey
from plotmap.layout import plan_layout
from plotmap.layout.land import land_of
from plotmap.layout.variation import Variation, variation_of
from plotmap.model.layout import Pilot
from plotmap.plots import compute_plots
from plotmap.stems import measure_stems
from tests.folder_example import compartments_example, folder_example
from tests.layout_example import TWO, ground_example

PLOTS = """\
plot,easting,northing,compartment
1,499850,5600050,A
2,499950,5600150,A
3,500050,5600050,B
4,500150,5600150,B
5,500250,5600050,C
6,500350,5600150,C
"""
D_CM = (20.0, 40.0, 30.0, 30.0, 10.0, 50.0)


def _pilot(tmp_path, d_cm=D_CM, strata=("wet", "wet", "dry")) -> Pilot:
    frame = compartments_example().assign(stratum=list(strata))
    trees = "plot,tree,d1_cm\n" + "".join(f"{n},1,{d}\n" for n, d in enumerate(d_cm, start=1))
    files = {"plots.csv": PLOTS, "trees.csv": trees, "instruments.csv": None, "species.csv": None}
    survey = read_survey(folder_example(tmp_path / "pilot", files, compartments=frame))
    return Pilot(survey, compute_plots(survey, measure_stems(survey)))


def _variation(layout: dict, pilot: Pilot | None = None) -> Variation:
    ground = ground_example({"n_plots": 20} | layout, TWO, strata=["wet", "dry"])
    return variation_of(land_of(ground), ground.settings.layout, pilot)


def test_the_variation_of_a_pilot_is_that_of_its_plots(tmp_path) -> None:
    # one stem a plot: basal areas are as the squares of the diameters, worked with numpy
    found = _variation({}, _pilot(tmp_path))
    wet, dry = np.array([400, 1600, 900, 900.0]), np.array([100, 2500.0])
    cv = [100 * values.std(ddof=1) / values.mean() for values in (wet, dry)]
    assert found.cv_pct == pytest.approx(cv)
    assert found.cv_from == ("pilot", "pilot")
    mean = 0.6 * wet.mean() + 0.4 * dry.mean()  # 24 and 16 ha
    assert found.of_survey_pct == pytest.approx(
        [cv[0] * wet.mean() / mean, cv[1] * dry.mean() / mean], rel=1e-4
    )
    within = 100 * np.sqrt((wet[:2].var(ddof=1) + wet[2:].var(ddof=1)) / 2) / wet.mean()
    assert found.within_pct == pytest.approx([within, cv[1]])
    assert set(found.within_from) == {"pilot, within compartments"}


def test_a_stratum_that_the_pilot_lacks_takes_that_of_all_its_strata(tmp_path) -> None:
    found = _variation({}, _pilot(tmp_path, strata=("wet", "wet", "moor")))
    wet, moor = np.array([400, 1600, 900, 900.0]), np.array([100, 2500.0])
    pooled = np.sqrt((3 * wet.var(ddof=1) + moor.var(ddof=1)) / 4)
    assert found.cv_from == ("pilot", "pilot, all strata")
    assert found.cv_pct[1] == pytest.approx(100 * pooled / np.concatenate([wet, moor]).mean())


def test_a_stated_stratum_goes_before_the_pilot_and_before_all(tmp_path) -> None:
    own = {"cv_pct_by_stratum": {"dry": 77.0}}
    assert _variation(own, _pilot(tmp_path)).cv_from == ("pilot", "stated for the stratum")
    found = _variation(own | {"cv_pct": 33.0})
    assert found.cv_pct.tolist() == found.of_survey_pct.tolist() == [33, 77]
    assert found.cv_from == ("stated", "stated for the stratum")


def test_nothing_stated_is_not_known() -> None:
    found = _variation({})
    assert not found.known
    assert found.cv_from == ("not known", "not known")
    assert np.isnan(found.cv_pct).all()


def test_a_pilot_without_stems_says_nothing(tmp_path) -> None:
    pilot = _pilot(tmp_path)
    empty = pilot.values.cells.filter(pl.lit(value=False))
    bare = Pilot(pilot.survey, replace(pilot.values, cells=empty))
    with pytest.raises(SettingsError, match=r"no stratum of .* has two plots with basal area"):
        _variation({}, bare)


def test_the_files_of_the_pilot_are_kept_with_the_layout(tmp_path) -> None:
    ground = ground_example({"n_plots": 20}, TWO, strata=["wet", "dry"])
    pilot = _pilot(tmp_path)
    layout = plan_layout(ground, pilot)
    assert layout.inputs == pilot.survey.inputs
    kept = dict(layout.layout_design.rows())
    assert all(kept[f"sha256 of {file.name}"] == file.sha256 for file in pilot.survey.inputs)
