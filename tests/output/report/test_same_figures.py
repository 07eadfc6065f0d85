"""Every figure of both reports is that of the tables, rounded; words and tables are read back by other libraries."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pandas as pd
import polars as pl
import pytest

import plotmap
from plotmap.model.survey import Stand
from tests.output.report.reports import Page, assert_rounded, html_of, number, pdf_lines, pdf_of, plain

SAMPLE = Path(__file__).parents[3] / "sample_plots"
DECIMALS = {"basal_area_m2_per_ha": 1, "stems_per_ha": 0, "basal_area_m2_total": 0, "stems_total": 0}


@pytest.fixture(scope="module")
def stand() -> Stand:
    return plotmap.compile_survey(plotmap.read_survey(SAMPLE))


@pytest.fixture(scope="module")
def page(stand: Stand, tmp_path_factory: pytest.TempPathFactory) -> Page:
    return Page(html_of(stand, tmp_path_factory.mktemp("html")))


@pytest.fixture(scope="module")
def lines(stand: Stand, tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    return pdf_lines(pdf_of(stand, tmp_path_factory.mktemp("pdf")))


def table_named(page: Page, *heads: str) -> list[list[str]]:
    """Return the first table whose headings hold these words."""
    for table in page.tables:
        if all(any(head in cell for cell in table[0]) for head in heads):
            return table
    raise AssertionError(f"no table has {heads}")


def cards_of(page: Page) -> list[list[list[str]]]:
    """Return the tables of figures of the cards."""
    return [table for table in page.tables if table[0][:2] == ["Figure", "Estimate"]]


def assert_row(cells: list[str], row: dict[str, Any]) -> None:
    """Assert that one row of a table of estimates is that of the results."""
    assert_rounded(cells[1], row["area_ha"], 2)
    assert int(number(cells[2])) == row["n_plots"]
    for at, name in ((3, "basal_area_m2_per_ha"), (5, "stems_per_ha")):
        if row["n_plots"] == 0:
            assert cells[at] == ""
            continue
        assert_rounded(cells[at], row[name], DECIMALS[name])
        if pd.isna(row[f"{name}_low"]):
            assert "–" not in cells[at + 1]
        else:
            low, high = cells[at + 1].split(" – ")
            assert_rounded(low, row[f"{name}_low"], DECIMALS[name])
            assert_rounded(high, row[f"{name}_high"], DECIMALS[name])
    if pd.notna(row["dg_cm"]):
        assert_rounded(cells[7], row["dg_cm"], 1)
    if pd.notna(row["sampling_error_pct"]):
        assert_rounded(cells[8], row["sampling_error_pct"], 0)


def test_the_page_has_every_compartment_with_its_figures_limits_and_plots(stand: Stand, page: Page) -> None:
    table = next(table for table in page.tables if table[0][0] == "Compartments")
    rows = pd.DataFrame(stand.compartments).to_dict("records")
    assert len(table) == len(rows) + 1
    for cells, row in zip(table[1:], rows, strict=True):
        assert cells[0].removesuffix(" *") == f"{row['compartment']} {row['name']}"
        assert_row(cells, row)
    assert {row["status"] for row in rows} == {"estimated", "one plot", "no plots"}


def test_the_page_has_the_survey_and_its_strata(stand: Stand, page: Page) -> None:
    table = next(table for table in page.tables if table[1][0] == "Whole survey")
    rows = [*stand.survey_total.to_dict("records"), *stand.strata.to_dict("records")]
    assert [cells[0] for cells in table[2:]] == stand.strata["stratum"].tolist()
    for cells, row in zip(table[1:], rows, strict=True):
        assert_row(cells, row)


def test_the_pdf_has_the_rows_that_the_page_has(page: Page, lines: list[str]) -> None:
    """The page was held against the tables above; its rows are looked for, cell by cell, in the words of the PDF."""
    text = " ".join(lines)
    tables = [
        table for table in page.tables if table[0][0] == "Compartments" or table[1][0] == "Whole survey"
    ]
    rows = [cells for table in tables for cells in table[1:]]
    assert len(rows) == 32 + 4
    for cells in rows:
        assert plain(" ".join(cell for cell in cells if cell)) in text, cells


@pytest.mark.parametrize("name", list(DECIMALS))
def test_each_card_has_the_figures_and_limits_of_its_compartment(stand: Stand, page: Page, name: str) -> None:
    titles = {
        "basal_area_m2_per_ha": "Basal area (m²/ha)",
        "stems_per_ha": "Stems (1/ha)",
        "basal_area_m2_total": "Basal area, total (m²)",
        "stems_total": "Stems, total",
    }
    known = stand.compartments[stand.compartments["n_plots"] > 0]
    cards = cards_of(page)
    assert len(cards) == len(known)
    for table, (_, row) in zip(cards, known.iterrows(), strict=True):
        (cells,) = [cells for cells in table if cells[0] == titles[name]]
        assert_rounded(cells[1], row[name], DECIMALS[name])
        if row["status"] == "one plot":
            assert cells[2] == "one plot: no error"
            continue
        low, high = re.split(" – ", cells[2].rpartition("· ")[2])
        assert_rounded(low, row[f"{name}_low"], DECIMALS[name])
        assert_rounded(high, row[f"{name}_high"], DECIMALS[name])


def test_plus_minus_stands_only_where_both_limits_are_as_far(stand: Stand, page: Page) -> None:
    found = 0
    for table, (_, row) in zip(
        cards_of(page), stand.compartments[stand.compartments["n_plots"] > 0].iterrows(), strict=True
    ):
        cells = table[1]
        below = row["basal_area_m2_per_ha"] - row["basal_area_m2_per_ha_low"]
        above = row["basal_area_m2_per_ha_high"] - row["basal_area_m2_per_ha"]
        if "±" in cells[2]:
            found += 1
            half = cells[2].removeprefix("± ").partition(" ·")[0]
            assert_rounded(half, below, 1)
            assert_rounded(half, above, 1)
        elif row["status"] == "estimated":
            assert abs(below - above) > 0.01
    assert found


def test_each_card_has_its_plots_and_species(stand: Stand, page: Page) -> None:
    plots = {row["plot"]: row for row in pd.DataFrame(stand.plots).to_dict("records")}
    seen = 0
    for table in page.tables:
        if table[0][:2] == ["Plot", "State"]:
            for cells in table[1:]:
                row = plots[cells[0]]
                seen += 1
                if pd.notna(row["basal_area_m2_per_ha"]):
                    assert_rounded(cells[5], row["basal_area_m2_per_ha"], 1)
                    assert_rounded(cells[4], row["stems_per_ha"], 0)
    assert seen == int(stand.plots["compartment"].notna().sum())
    shares = stand.species_totals.filter(pl.col("compartment") == "01").sort(
        "basal_area_share_pct", descending=True
    )
    species = next(table for table in page.tables if table[0][0] == "Species")
    assert [cells[0] for cells in species[1:]] == shares["species"].to_list()
    for cells, pct in zip(species[1:], shares["basal_area_share_pct"].to_list(), strict=True):
        assert_rounded(cells[1].partition(" ")[0], pct, 0)


def test_both_say_the_same_words(page: Page, lines: list[str]) -> None:
    """Every paragraph, term and item of the page is in the PDF, but for links, map and legend."""
    text = re.sub(r"\s", "", "".join(lines))
    for _tag, words in said(page):
        assert re.sub(r"\s", "", plain(words)) in text, words


def said(page: Page) -> list[tuple[str, str]]:
    """Return the longer texts of the page: sentences."""
    return [("", words) for words in page.words if len(words.strip()) > 60 and not words.startswith("\n")]


def test_the_ledger_of_the_report_adds_up(stand: Stand, page: Page) -> None:
    table = table_named(page, "Rows read", "Set aside")
    for cells in table[1:]:
        assert number(cells[1]) == number(cells[2]) + number(cells[3])
        reasons = sum(int(n) for n in re.findall(r"\((\d+)\)", cells[4]))
        assert reasons == number(cells[3])
    assert len(table) - 1 == stand.ledger["table"].n_unique()


def test_the_hashes_of_all_files_are_told(stand: Stand, page: Page, lines: list[str]) -> None:
    table = table_named(page, "SHA-256")
    assert [cells[2] for cells in table[1:]] == [one.sha256 for one in stand.inputs]
    text = "".join(lines)
    assert all(one.sha256 in text for one in stand.inputs)
