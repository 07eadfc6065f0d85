"""What others may see of a survey: sums hold, nothing can be taken off, what is not shared has no rows."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from plotmap.fielddata import read_survey
from plotmap.model.result_tables import RESULT_TABLES
from plotmap.model.survey import Stand
from plotmap.output.declared import stand_frames
from plotmap.workflow import compile_survey, share
from tests.folder_example import folder_example
from tests.sharing.hostile_survey import hostile_survey

AUDIENCES = ("managers", "public")
OTHER = "other species"


@dataclass(frozen=True)
class Case:
    """A survey as the house has it, and as it was written for others."""

    stand: Stand
    folders: dict[str, Path]

    def table(self, audience: str, name: str) -> pl.DataFrame:
        return pl.read_csv(
            self.folders[audience] / "tables" / f"{name}.csv",
            infer_schema_length=None,
        )


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> Case:
    folder = hostile_survey(tmp_path_factory.mktemp("survey") / "wood")
    return Case(compile_survey(read_survey(folder)), {name: share(folder, name).folder for name in AUDIENCES})


@pytest.mark.parametrize("audience", AUDIENCES)
def test_every_table_is_written_with_its_columns(case: Case, audience: str) -> None:
    for table in RESULT_TABLES:
        assert case.table(audience, table.name).columns[: len(table.columns)] == table.names


@pytest.mark.parametrize("audience", AUDIENCES)
@pytest.mark.parametrize(
    "name",
    ["compartments", "class_totals", "strata", "survey_total", "class_sums", "structure", "error_parts"],
)
def test_figures_of_all_species_are_those_of_the_house(case: Case, audience: str, name: str) -> None:
    ours, theirs = stand_frames(case.stand)[name], case.table(audience, name)
    assert theirs.height == ours.height > 0
    for column in ours.columns:
        if ours.schema[column].is_numeric():
            mine, yours = (frame[column].cast(pl.Float64).to_numpy() for frame in (ours, theirs))
            np.testing.assert_allclose(yours, mine, rtol=1e-9, err_msg=column)


def test_species_that_are_listed_keep_their_figures_and_errors(case: Case) -> None:
    key, figures = (
        ["compartment", "species"],
        ["stems_per_ha", "basal_area_m2_per_ha", "basal_area_m2_per_ha_se"],
    )
    theirs = case.table("managers", "species_totals").filter(pl.col("species") != OTHER)
    both = theirs.join(stand_frames(case.stand)["species_totals"], on=key, how="left", suffix="_house")
    assert both.height > 0
    for name in figures:
        np.testing.assert_allclose(both[name].to_numpy(), both[f"{name}_house"].to_numpy(), rtol=1e-9)


@pytest.mark.parametrize("name", ["stems_per_ha", "basal_area_m2_per_ha", "n_trees"])
def test_the_listed_species_add_up_so_that_nothing_is_left_to_take_off(case: Case, name: str) -> None:
    sums = case.table("managers", "species_totals").group_by("compartment").agg(pl.col(name).sum())
    whole = case.table("managers", "compartments").select("compartment", pl.col(name).alias("whole"))
    both = whole.join(sums, on="compartment", how="inner")
    assert both.height == 3
    np.testing.assert_allclose(both[name].to_numpy(), both["whole"].to_numpy(), rtol=1e-9)
    classes = case.table("managers", "classes").group_by("compartment").agg(pl.col(name).sum())
    both = whole.join(classes, on="compartment", how="inner")
    np.testing.assert_allclose(both[name].to_numpy(), both["whole"].to_numpy(), rtol=1e-9)


def test_the_error_of_the_group_is_that_of_its_stems_on_the_plots(case: Case) -> None:
    """Three equal plots in compartment A: the standard error of a mean, worked by hand from the plots' sums."""
    trees = case.stand.trees.filter(~pl.col("species").is_in(["oak"]))
    per_plot = trees.group_by("plot").agg(pl.col("stems_per_ha").sum())
    tallied = (
        case.stand.tallied.filter(pl.col("species") == "elm")
        .group_by("plot")
        .agg(pl.col("stems_per_ha").sum())
    )
    sums = pl.concat([per_plot, tallied]).group_by("plot").agg(pl.col("stems_per_ha").sum())
    values = sums.filter(pl.col("plot").is_in(["QP-1x", "QP-2x", "QP-7x"]))["stems_per_ha"].to_numpy()
    group = case.table("managers", "species_totals").filter(
        (pl.col("compartment") == "A") & (pl.col("species") == OTHER)
    )
    assert group["stems_per_ha"].item() == pytest.approx(values.mean())
    assert group["stems_per_ha_se"].item() == pytest.approx(values.std(ddof=1) / np.sqrt(3))


@pytest.mark.parametrize("audience", AUDIENCES)
def test_stems_people_and_rows_are_not_shared(case: Case, audience: str) -> None:
    for name in (
        "trees",
        "tallied",
        "instrument_log",
        "check_differences",
        "check_summary",
        "band_confusion",
    ):
        assert case.table(audience, name).height == 0, name
    findings = case.table(audience, "findings")
    assert findings["code"].is_unique().all()
    assert findings.select(pl.col("row", "plot", "compartment", "column", "value").null_count()).row(0) == (
        (findings.height,) * 5
    )
    assert set(case.table(audience, "ledger")["table"]) == {"compartments", "plots", "trees", "tallies"}


def test_findings_are_counted_in_full(case: Case) -> None:
    house = case.stand.findings.frame.group_by("code").len().sort("code")
    shown = case.table("managers", "findings").sort("code")
    counts = shown["message"].str.extract(r"\(number of findings: (\d+)\)$").cast(pl.UInt32)
    assert shown["code"].to_list() == house["code"].to_list()
    assert counts.to_list() == house["len"].to_list()


def test_the_public_is_given_no_plots_and_no_species_of_compartments(case: Case) -> None:
    for name in ("plots", "classes", "species_totals"):
        assert case.table("public", name).height == 0, name
    volumes = case.table("public", "volumes")
    assert set(volumes.filter(pl.col("scope") == "compartment")["species"]) == {"all species"}
    sums = case.table("public", "species_sums")
    assert OTHER in sums["species"].to_list()


def test_species_of_a_stratum_that_is_one_compartment_are_not_for_the_public(tmp_path: Path) -> None:
    from tests.folder_example import compartments_example  # noqa: PLC0415
    from tests.sharing.hostile_survey import hostile_files  # noqa: PLC0415

    outlines = compartments_example().assign(stratum=["hill", "hill", "dale"])
    folder = folder_example(tmp_path / "wood", hostile_files(), compartments=outlines)
    tables = share(folder, "public").folder / "tables"
    assert set(pl.read_csv(tables / "species_sums.csv")["scope"]) == {"survey"}
    volumes = pl.read_csv(tables / "volumes.csv")
    assert set(volumes.filter(pl.col("scope") == "stratum")["species"]) == {"all species"}


def test_figures_of_plots_are_rounded_and_what_tells_their_place_is_left_out(case: Case) -> None:
    plots = case.table("managers", "plots")
    assert plots.height == 9
    for name in ("crew", "slope_pct", "area_m2", "share_inside", "n_trees", "source_row"):
        assert plots[name].null_count() == 9, name
    for name, step in {"stems_per_ha": 10, "basal_area_m2_per_ha": 1, "dg_cm": 1}.items():
        assert (plots[name].drop_nulls() % step == 0).all(), name
    assert plots["plot"].to_list() == [f"s{number:03d}" for number in range(1, 10)]


def test_numbers_of_stems_by_equation_are_withheld(case: Case) -> None:
    equations = case.table("managers", "volume_equations")
    assert equations["species"].to_list() == ["*"]  # of the two that were used, that of elm is not named
    assert equations["n_trees"].null_count() == equations.height
    house = stand_frames(case.stand)["volumes"].filter(pl.col("species") == "all species")
    theirs = case.table("managers", "volumes").filter(pl.col("species") == "all species")
    for name in ("volume_m3_per_ha", "volume_m3_per_ha_se"):  # the equation of elm was still used
        np.testing.assert_allclose(theirs[name].to_numpy(), house[name].to_numpy(), rtol=1e-9)


def _without(text: str, *species: str) -> str:
    """Return settings without the entries of species."""
    parts = text.split("\n[[")
    return "\n[[".join(part for part in parts if not any(f'species = "{name}"' in part for name in species))


def test_volumes_whose_gaps_would_show_a_species_are_withheld(tmp_path: Path) -> None:
    from tests.sharing.hostile_survey import hostile_files  # noqa: PLC0415

    files = hostile_files()
    table = files["species.csv"].replace(",0.50,", ",,")  # elm without a form factor
    text = _without(files["survey.toml"], "*")
    text = _without(text, "elm").replace(
        "\n[map]", '\n[[density.maxima]]\nspecies = "oak"\nindex = 1000\n\n[map]'
    )
    if "[map]" not in text:
        text += '\n[[density.maxima]]\nspecies = "oak"\nindex = 1000\n'
    folder = folder_example(tmp_path / "wood", files | {"species.csv": table, "survey.toml": text})
    house = compile_survey(read_survey(folder))
    assert house.volumes.height > 0
    tables = share(folder, "managers").folder / "tables"
    assert pl.read_csv(tables / "volumes.csv").height == 0
    assert pl.read_csv(tables / "volume_equations.csv").height == 0
    density = pl.read_csv(tables / "stand_density.csv")
    assert density["relative_density_pct"].null_count() == density.height
