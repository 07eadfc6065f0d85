"""The generated surveys have the sizes asked for, the declared columns and compartments without gaps."""

from __future__ import annotations

import sys
from pathlib import Path

import geopandas as gpd
import polars as pl
import pytest

from plotmap.fielddata import read_survey
from plotmap.model.field_tables import COMPARTMENTS, INSTRUMENTS, PLOTS, SPECIES, TREES
from plotmap.model.findings import Severity
from tests.benchmarks.make_survey import SPACING_M, SurveySize, TableFormat, main, make_survey
from tests.benchmarks.measure import measure, report, sizes

SIZE = SurveySize(compartments=7, plots=40, stems=500)


@pytest.mark.parametrize("table_format", ["csv", "parquet"])
def test_a_tiny_survey_has_the_declared_columns_and_the_sizes_asked_for(
    tmp_path: Path, table_format: TableFormat
) -> None:
    folder = make_survey(tmp_path, SIZE, table_format)
    scan = pl.read_csv if table_format == "csv" else pl.read_parquet
    tables = {
        name: scan(folder / f"{name}.{table_format}") for name in ("plots", "trees", "instruments", "species")
    }
    assert set(tables["plots"].columns) <= set(PLOTS.names)
    assert set(tables["trees"].columns) - {"d1_cm", "d2_cm"} <= set(TREES.names)
    assert set(tables["instruments"].columns) <= set(INSTRUMENTS.names)
    assert set(tables["species"].columns) <= set(SPECIES.names)
    assert tables["plots"].height == SIZE.plots
    assert tables["trees"].height == SIZE.stems
    assert tables["species"].height == 8


@pytest.mark.parametrize("count", [1, 7, 9, 40])
def test_the_compartments_fill_the_rectangle_of_the_plots_without_gap_or_overlap(
    tmp_path: Path, count: int
) -> None:
    layer = gpd.read_file(make_survey(tmp_path, SurveySize(count, 40, 10)) / "compartments.gpkg")
    assert set(layer.columns) <= {*COMPARTMENTS.names, "geometry"}
    assert len(layer) == count
    assert layer.is_valid.all()
    rectangle = 7 * SPACING_M * 6 * SPACING_M  # geometry: 40 plots in 6 rows of 7
    assert layer.area.sum() == pytest.approx(rectangle)
    assert layer.union_all().area == pytest.approx(rectangle)


@pytest.mark.parametrize("table_format", ["csv", "parquet"])
def test_plotmap_reads_a_generated_survey_without_an_error(tmp_path: Path, table_format: TableFormat) -> None:
    survey = read_survey(make_survey(tmp_path, SIZE, table_format))
    assert survey.findings.of(Severity.ERROR).rows() == []
    assert survey.trees.height == SIZE.stems
    assert survey.plots["located_in"].notna().all()


def test_the_same_seed_gives_the_same_tables_and_another_seed_others(tmp_path: Path) -> None:
    first, again, other = (
        make_survey(tmp_path / name, SIZE, seed=seed) for name, seed in (("a", 1), ("b", 1), ("c", 2))
    )
    for name in ("plots.csv", "trees.csv", "instruments.csv", "species.csv"):
        assert (first / name).read_bytes() == (again / name).read_bytes()
    assert (first / "trees.csv").read_bytes() != (other / "trees.csv").read_bytes()


def test_fewer_plots_than_compartments_are_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit, match="2"):
        main([str(tmp_path), "--compartments", "9", "--plots", "8"])
    assert "at least as many plots as compartments" in capsys.readouterr().err


def test_a_measurement_sees_time_memory_exit_code_and_files(tmp_path: Path) -> None:
    written = tmp_path / "out" / "made.bin"
    code = (
        "import pathlib, sys, time; block = bytearray(150_000_000); time.sleep(0.2); "
        f"p = pathlib.Path({str(written)!r}); p.parent.mkdir(); p.write_bytes(b'x' * 2000); sys.exit(3)"
    )
    measured = measure([sys.executable, "-c", code])
    assert measured.exit_code == 3
    assert measured.wall_s >= 0.2
    assert measured.cpu_s > 0
    assert measured.peak_bytes > 150_000_000
    assert sizes(tmp_path / "out") == {"made.bin": 2000}
    assert "made.bin" in report(measured, sizes(tmp_path / "out"))
