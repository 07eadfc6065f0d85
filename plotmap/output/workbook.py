"""Sheets of the workbook: what it is about, the tables, and what every column means."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import suppress
from datetime import datetime
from io import BytesIO
from pathlib import Path
from typing import Any

import polars as pl

from plotmap.model.columns import Column, Kind, Table
from plotmap.model.finding_rules import Severity
from plotmap.model.settings import Settings

MAX_ROWS = 20_000
"""Longest table the workbook takes; a sheet could hold 1 048 575 rows, but few programs bear that."""
CREATED = datetime(1980, 1, 1)  # noqa: DTZ001 - workbooks know no time zone
"""Stands for the time of writing, so that the same stand gives the same bytes."""
# Digits by the unit; single stems and shares need more than totals do.
_FORMATS_BY_NAME = {
    "share_inside": "0.000",
    "stems_total": "#,##0",
    "basal_area_m2": "0.0000",
    "times": "0.##",
}
_FORMATS_BY_UNIT = {
    "m²/ha": "0.0",
    "1/ha": "0",
    "m²": "#,##0.0",
    "ha": "#,##0.00",
    "cm": "0.0",
    "mm": "0.0",
    "%": "0.0",
    "m": "0.0",
}
_LONGEST_TEXT = 60
_LONGEST_SENTENCE = 110
Row = tuple[str | float | None, ...]


def write_sheets(
    tables: Sequence[Table],
    frames: dict[str, pl.DataFrame],
    settings: Settings,
    path: Path,
    about: list[Row],
) -> None:
    """Write tables into a workbook (see `plotmap.output.tables.write_workbook`).

    Parameters
    ----------
    tables : sequence of Table
        What to write, in the order of the sheets.
    frames : dict of str to polars.DataFrame
        The tables by name, each with exactly the declared columns.
    settings : Settings
        Of the survey: its title is the workbook's.
    path : Path
        File to write.
    about : list of tuple
        Rows of the first sheet: label, then text or number. Tables that are too long are named below them.

    Raises
    ------
    OSError, xlsxwriter.exceptions.XlsxFileError
        The file cannot be written.
    """
    import xlsxwriter  # noqa: PLC0415 - only where a workbook is wanted

    packed = BytesIO()  # a disk that is full then meets plain files only, not a half-written archive
    book = xlsxwriter.Workbook(
        packed,
        {
            "constant_memory": True,
            "tmpdir": str(path.parent),
            "strings_to_formulas": False,
            "strings_to_urls": False,
            "strings_to_numbers": False,
            "nan_inf_to_errors": True,
        },
    )
    book.set_properties({"title": settings.survey.title, "created": CREATED})
    short = [table for table in tables if frames[table.name].height <= MAX_ROWS]
    long = [table for table in tables if frames[table.name].height > MAX_ROWS]
    try:
        _write_plain_sheet(book, "About", (), about + _left_out(frames, long), (34, _LONGEST_SENTENCE))
        for table in short:
            _write_table_sheet(book, table, frames[table.name])
        headings = ("Table", "Column", "Heading", "Unit", "Meaning")
        _write_plain_sheet(book, "Columns", headings, _columns(tables), (18, 28, 40, 8, _LONGEST_SENTENCE))
        book.close()
    finally:
        _abandon(book)
    path.write_bytes(packed.getbuffer())


def number_format(column: Column) -> str:
    """Return the number format of a column: as many digits as its unit calls for."""
    if column.kind is Kind.DATE:
        return "yyyy-mm-dd"
    if column.kind is Kind.COUNT:
        return "0"
    if column.kind is not Kind.NUMBER:
        return "@"
    name = column.name
    for ending in ("_se", "_low", "_high"):
        name = name.removesuffix(ending)
    return _FORMATS_BY_NAME.get(name) or _FORMATS_BY_UNIT.get(column.unit, "General")


def _abandon(book: Any) -> None:
    """Close what a failed workbook left open, and keep it from writing itself again when collected."""
    book.fileclosed = True
    for sheet in book.worksheets():
        for handle in (sheet.row_data_fh, sheet.fh):
            with suppress(OSError, AttributeError):
                handle.close()


def _write_table_sheet(book: Any, table: Table, frame: pl.DataFrame) -> None:
    """Write one table: frozen headings with units, formats, widths, filter; missing stays blank."""
    sheet = book.add_worksheet(table.name)
    head = book.add_format({"bold": True, "text_wrap": True, "valign": "top", "bottom": 1})
    formats = [book.add_format({"num_format": number_format(column)}) for column in table.columns]
    for at, column in enumerate(table.columns):
        sheet.set_column(at, at, _width(column, frame[column.name]), formats[at])
    sheet.freeze_panes(1, 0)
    sheet.autofilter(0, 0, max(frame.height, 1), len(table.columns) - 1)
    sheet.set_row(0, 45)
    for at, column in enumerate(table.columns):
        sheet.write_string(0, at, column.heading, head)
    writers = [
        {
            Kind.NUMBER: sheet.write_number,
            Kind.COUNT: sheet.write_number,
            Kind.DATE: sheet.write_datetime,
        }.get(column.kind, sheet.write_string)
        for column in table.columns
    ]
    # The format has no other way in than cell by cell, row after row (constant memory).
    for row, cells in enumerate(frame.iter_rows(), start=1):
        for at, cell in enumerate(cells):
            if cell is not None:
                writers[at](row, at, cell, formats[at])


def _write_plain_sheet(
    book: Any, name: str, headings: tuple[str, ...], rows: Iterable[Row], widths: tuple[int, ...]
) -> None:
    """Write a sheet of sentences and numbers."""
    sheet = book.add_worksheet(name)
    bold = book.add_format({"bold": True, "valign": "top"})
    wrapped = book.add_format({"text_wrap": True, "valign": "top", "align": "left"})
    for at, width in enumerate(widths):
        sheet.set_column(at, at, width)
    if headings:
        sheet.freeze_panes(1, 0)
        sheet.write_row(0, 0, headings, bold)
    for row, cells in enumerate(rows, start=1 if headings else 0):
        for at, cell in enumerate(cells):
            style = bold if at == 0 and not headings else wrapped
            if isinstance(cell, str):
                sheet.write_string(row, at, cell, style)
            elif cell is not None:
                sheet.write_number(row, at, cell, style)


def _left_out(frames: dict[str, pl.DataFrame], long: list[Table]) -> list[Row]:
    """Return where to find the tables that are too long for a sheet."""
    return [
        (f"Sheet left out: {table.name}", f"{frames[table.name].height} rows: see tables/{table.name}.csv")
        for table in long
    ]


def about_stand(frames: dict[str, pl.DataFrame], settings: Settings) -> list[Row]:
    """Return the rows of the first sheet of a stand's workbook: what it rests on, and cautions.

    Parameters
    ----------
    frames : dict of str to polars.DataFrame
        Result tables by name.
    settings : Settings
        Of the survey.
    """
    total = frames["survey_total"].row(0, named=True)
    aside = frames["plots"].drop_nulls("set_aside").group_by("set_aside").len().sort("set_aside")
    rows: list[Row] = [
        ("Survey", settings.survey.title or "without a title"),
        ("Confidence of all limits", f"{100 * settings.survey.confidence:g} %"),
        ("Size classes", settings.class_rule.describe()),
        ("Plots in the estimates", total["n_plots"]),
        ("Compartments covered", total["n_compartments"]),
        ("Area covered (ha)", total["area_ha"]),
        ("Source of the area", total["area_source"]),
        ("Compartments left out", total["n_left_out"]),
        ("Area left out (ha)", total["area_left_out_ha"]),
        *((f"Plots set aside: {reason}", count) for reason, count in aside.iter_rows()),
        *_about_error(frames["error_parts"]),
        *_about_readings(frames["section_effect"], frames["instrument_log"]),
        *_about_checks(frames["check_differences"], settings),
    ]
    return rows + [("Caution", caution) for caution in _cautions(frames, total, settings)]


def _about_error(parts: pl.DataFrame) -> list[Row]:
    """Return what the error of basal area is made of, and how many plots the target needs."""
    whole = parts.filter(pl.col("scope") == "survey")
    if whole.is_empty():
        return []
    row = whole.row(0, named=True)
    error = "basal_area_m2_per_ha_se"
    shares = {
        "between plots": row[f"{error}_between_plots"],
        "single readings": row[f"{error}_readings"],
        "instrument checks": row[f"{error}_checks"],
        "tallies": row[f"{error}_grouping"],
    }
    label = "Standard error of basal area (m²/ha)"
    rows: list[Row] = [(label, row[error])]
    rows += [
        (f"{label}: {part}", value if value is not None else "not known") for part, value in shares.items()
    ]
    if row["helps_most"]:
        rows.append(("What would make it smaller", row["helps_most"]))
    if row["n_plots_needed"] is not None:
        rows.append((f"Plots for a sampling error of {row['target_error_pct']:g} %", row["n_plots_needed"]))
    return rows


def _about_readings(sections: pl.DataFrame, log: pl.DataFrame) -> list[Row]:
    """Return what other means of readings would have given, and what was taken off for random errors."""
    others = sections.filter(pl.col("used") != "yes").drop_nulls("difference_pct")
    rows: list[Row] = [
        (f"Basal area by {_mean_words(mean)}", f"{difference:+.2f} % ({stems} stems)")
        for mean, difference, stems in others.select("mean", "difference_pct", "n_stems").iter_rows()
    ]
    taken_off = float(log["basal_area_taken_off_m2"].sum()) if log.height else 0.0
    if taken_off > 0:
        rows.append(("Basal area of stems taken off for random errors of instruments (m²)", taken_off))
    return rows


def _mean_words(mean: str) -> str:
    """Return a way to make one diameter in words."""
    return mean if mean.startswith("girth") else f"the {mean} mean of readings"


def _about_checks(differences: pl.DataFrame, settings: Settings) -> list[Row]:
    """Return what check measurements were held against, where there are any."""
    if differences.is_empty():
        return []
    rule = settings.check
    return [
        ("Plots checked", differences["plot"].n_unique()),
        (
            "Difference allowed of one diameter",
            f"{rule.tolerance_mm:g} mm, or {rule.tolerance_pct:g} % if more",
        ),
        ("Share of diameters that must be within", f"{rule.min_within_pct:g} %"),
        ("Mean difference allowed of a crew", f"{rule.bias_mm:g} mm"),
        (
            "Partners without a common number",
            f"within {rule.match_position_m:g} m, or within {rule.match_mm:g} mm of diameter",
        ),
    ]


def _cautions(frames: dict[str, pl.DataFrame], total: dict[str, Any], settings: Settings) -> list[str]:
    """Return what a reader must keep in mind, in sentences."""
    cautions = ["A blank cell means that there is no figure; it never means zero."]
    if total["n_left_out"]:
        cautions.append(
            f"Compartments without plots: {total['n_left_out']}. Nothing is said about them, and no total holds them."
        )
    if total["n_without_plots"]:
        cautions.append(
            f"Compartments without plots that totals cover by the other plots of their strata: "
            f"{total['n_without_plots']}. They have no figures of their own."
        )
    if total["n_one_plot"]:
        samples = "Compartments" if settings.estimates.sample_of == "compartment" else "Strata"
        cautions.append(
            f"{samples} with one plot: {total['n_one_plot']}. One plot alone tells nothing about its error."
        )
    for severity in Severity:
        count = frames["findings"].filter(pl.col("severity") == severity.value).height
        if count:
            cautions.append(
                f"Findings of severity {severity.value}: {count}. They are listed in findings.csv."
            )
    return cautions


def _columns(tables: Sequence[Table]) -> list[Row]:
    """Return one row for each column of each table."""
    return [
        (table.name, column.name, column.heading, column.unit, column.meaning)
        for table in tables
        for column in table.columns
    ]


def _width(column: Column, cells: pl.Series) -> float:
    """Return the width of a column in characters: the longest word of its heading, or its longest text."""
    least = max(len(word) for word in column.heading.split()) + 4
    longest = cells.str.len_chars().max() if cells.dtype == pl.String else None
    return float(max(least, 10, min(int(str(longest)), _LONGEST_TEXT) + 1 if longest is not None else 0))
