"""Laying out plots as a person does."""

from __future__ import annotations

from pathlib import Path

import pyogrio
import pytest

from tests.end_to_end.command import assert_refused, plotmap, snapshot
from tests.folder_example import compartments_example, edited, folder_example, settings_text

NOTHING = dict.fromkeys(("plots.csv", "trees.csv", "instruments.csv", "species.csv"))


def _folder(folder: Path, layout: str) -> Path:
    return folder_example(folder, {**NOTHING, "survey.toml": settings_text(layout=layout)})


def test_from_an_empty_folder_to_plots_that_are_read_back(tmp_path: Path) -> None:
    folder = tmp_path / "new"
    assert plotmap("new", folder).code == 0
    pyogrio.write_dataframe(compartments_example(), folder / "compartments.gpkg", layer="compartments")
    text = (
        (folder / "survey.toml")
        .read_text("utf-8")
        .replace("# seed = 1 ", "cv_pct = 45\nplots_per_day = 8\n# seed = 1 ", 1)
    )
    (folder / "survey.toml").write_text(text, "utf-8")
    done = plotmap("layout", folder)
    assert (done.code, done.err) == (0, "")
    for said in (
        "12.0 ha net",
        "variation between plots 45.0 % (stated)",
        "for 10 % at 95 % confidence: ",
        "walk",
    ):
        assert said in done.out
    written = {path.name for path in (folder / "layout").iterdir()}
    planned = {"planned.gpx", "planned.kml", "planned.gpkg", "planned.csv"}
    assert written == {*planned, "compartment_maps.pdf", "findings.csv", "tables"}
    assert "compartment_maps.pdf" in done.out
    (folder / "plots.csv").write_bytes((folder / "layout" / "planned.csv").read_bytes())
    checked = plotmap("check", folder)
    assert_refused(checked, 1, "ERROR no-plots-left")  # nothing was visited yet
    assert "1 error" in checked.out
    lines = (folder / "plots.csv").read_text("utf-8").splitlines()
    lines[1:] = [line.replace(",unvisited,", ",empty,") for line in lines[1:]]
    (folder / "plots.csv").write_text("\n".join(lines), "utf-8")
    assert plotmap("check", folder).code == 0


def test_a_second_layout_with_the_same_seed_is_the_same(tmp_path: Path) -> None:
    folder = _folder(tmp_path / "s", "n_plots = 12")
    assert plotmap("layout", folder).code == 0
    before = snapshot(folder / "layout")
    assert plotmap("layout", folder).code == 0
    after = snapshot(folder / "layout")
    assert {name for name in before if before[name] != after.get(name)} <= {"planned.gpkg"}


def test_a_pilot_says_how_much_plots_differ_and_few_plots_are_named(tmp_path: Path) -> None:
    folder_example(tmp_path / "old")
    folder = _folder(
        tmp_path / "new", 'pilot = "../old"\ncrew_days = 1\nplots_per_day = 5\nmethod = "random"'
    )
    done = plotmap("layout", folder)
    assert done.code == 0
    assert "(pilot)" in done.out
    assert "the crew-days give 5 plots: sampling error" in done.out
    assert "1 compartment under 2: " in done.out


def test_a_pilot_with_errors_stops_with_its_name(tmp_path: Path) -> None:
    folder_example(tmp_path / "old", {"trees.csv": edited("trees.csv", (2, "plot", "P9"))})
    folder = _folder(tmp_path / "new", 'pilot = "../old"')
    done = plotmap("layout", folder)
    assert done.code == 1
    assert "old: the survey has 1 error" in done.err
    assert not (folder / "layout").exists()


def test_errors_in_the_compartments_are_listed_and_nothing_is_written(tmp_path: Path) -> None:
    folder = _folder(tmp_path, "n_plots = 9")
    frame = compartments_example()
    frame.loc[1, "compartment"] = "A"
    pyogrio.write_dataframe(frame, folder / "compartments.gpkg", layer="compartments")
    assert_refused(plotmap("layout", folder), 1, "compartment-twice", "no plots were laid out")
    assert not (folder / "layout").exists()


@pytest.mark.parametrize(
    ("layout", "says"),
    [
        ("", "[layout] does not say how many plots"),
        ("crew_days = 0\nplots_per_day = 5", "[layout] crew_days is 0, but must be greater than 0"),
        ("crew_days = 2", "crew_days needs plots_per_day"),
        ('method = "hexagon"', "[layout] method is 'hexagon', but must be 'square'"),
        (
            'n_plots = 9\nmethod = "random"\nspacing_m = 50',
            "spacing_m and bearing_deg do not fit method = 'random'",
        ),
        ("n_plots = 9\nspacing_m = 50", "spacing_m and n_plots are both given"),
        ('cv_pct = 50\npilot = "x"', "cv_pct and pilot are both given"),
        ('pilot = "nowhere"', "[layout] pilot is 'nowhere': "),
        ('n_plots = 9\nexclude = ["lake.gpkg"]', "exclude names 'lake.gpkg', but there is no such file"),
        ("n_plots = 9\nstart = [500000]", "[layout] start"),
        ("n_plots = 99999", "239 of 500 m² cover all of"),
        ("seed = -1\nn_plots = 9", "[layout] seed is -1"),
    ],
)
def test_settings_that_cannot_be_are_worded(tmp_path: Path, layout: str, says: str) -> None:
    assert_refused(plotmap("layout", _folder(tmp_path, layout)), 2, says)
    assert not (tmp_path / "layout").exists()


def test_places_that_are_none_are_refused(tmp_path: Path) -> None:
    folder = _folder(tmp_path / "s", "n_plots = 9")
    assert_refused(plotmap("layout", tmp_path / "nowhere"), 2, "nowhere: there is no such folder")
    assert_refused(plotmap("layout", folder, "--out", folder), 2, "this is the survey folder")
    assert_refused(plotmap("layout", folder, "--out", tmp_path / "x.gpkg"), 2, "x.gpkg")
