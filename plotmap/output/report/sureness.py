"""How sure the figures are, and what would make them surer."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from plotmap.model.result_tables import FULL_COUNT, NO_PLOTS, ONE_PLOT, SURVEY_RESULTS
from plotmap.model.result_tables_errors import ERROR_PART_RESULTS, ESTIMATED
from plotmap.output.report.blocks import Block, Facts, Head, Section, TableBlock, Text
from plotmap.output.report.figures import column_texts, pct_text, texts, whole
from plotmap.output.webmap.themes import LARGE_ERROR_HATCH, hatches

if TYPE_CHECKING:
    from plotmap.model.labels import Labels
    from plotmap.model.survey import Stand

_SE = "basal_area_m2_per_ha_se"
_PARTS = (
    ("", "report.part_all"),
    ("_between_plots", "report.part_between_plots"),
    ("_readings", "report.part_readings"),
    ("_checks", "report.part_checks"),
    ("_grouping", "report.part_tallies"),
    ("_all", "report.part_together"),
)
_DECIMALS = 2


def sure_section(stand: Stand, labels: Labels) -> Section:
    """Return how sure the figures are: error and target, its parts, neighbours, readings, checks."""
    blocks: list[Block] = [Text(words) for words in _error_words(stand, labels)]
    blocks += [Text(words, "bullet") for words in _weak_compartments(stand, labels)]
    blocks += _parts(stand, labels)
    pairs = [
        *_helps(stand, labels),
        *_grid(stand, labels),
        *_readings(stand, labels),
        *_checks(stand, labels),
    ]
    if pairs:
        blocks.append(Facts(tuple(pairs)))
    return Section("sure", labels("report.sure"), tuple(blocks))


def _survey_parts(stand: Stand) -> dict[str, Any] | None:
    """Return what the error of the survey is made of; None where there is none."""
    rows = stand.error_parts.filter(pl.col("scope") == "survey")
    return rows.row(0, named=True) if rows.height else None


def _error_words(stand: Stand, labels: Labels) -> Iterator[str]:
    """Yield the error of the survey and the plots needed for the target."""
    status = set(stand.compartments["status"]) - {NO_PLOTS}
    error = column_texts(stand.survey_total.head(1), SURVEY_RESULTS["sampling_error_pct"])
    row = _survey_parts(stand)
    if status == {FULL_COUNT}:
        yield labels("report.sure_counted")
        return
    if row is None or not error or not error[0]:
        yield labels("report.sure_none")
        return
    target = pct_text(stand.settings.estimates.target_error_pct)
    said = labels("report.sure_error", pct=error[0], target=target)
    if row["n_plots_needed"] is not None:
        needed, more = whole(row["n_plots_needed"]), row["n_plots_more"]
        plots = labels.count("words.plots", int(row["n_plots"]))
        said += " " + (
            labels("report.sure_more", n=needed, more=whole(more), plots=plots)
            if more
            else labels("report.sure_enough", n=needed, plots=plots)
        )
    yield said


def _weak_compartments(stand: Stand, labels: Labels) -> Iterator[str]:
    """Yield how many compartments have a large error, one plot, or no plots."""
    large_pct = stand.settings.map.large_error_pct
    n_large = int((hatches(stand.compartments, large_pct) == LARGE_ERROR_HATCH).sum())
    if n_large:
        yield labels.count("report.large_errors", n_large, large=pct_text(large_pct))
    status = stand.compartments["status"]
    if n_one := int((status == ONE_PLOT).sum()):
        yield labels.count("report.one_plots", n_one)
    if n_none := int((status == NO_PLOTS).sum()):
        yield labels.count("report.no_plots_in", n_none)


def _parts(stand: Stand, labels: Labels) -> Iterator[Block]:
    """Yield a table of what the standard error of the survey is made of."""
    row = _survey_parts(stand)
    if row is None or row[_SE] is None:
        return
    values = [(labels(key), row[f"{_SE}{end}"]) for end, key in _PARTS]
    not_known = labels("report.part_not_known")
    rows = tuple((part, _number(value) if value is not None else not_known) for part, value in values)
    title = labels("report.sure_parts")
    column = ERROR_PART_RESULTS[_SE]
    heads = (Head(title, 4.0), Head(labels.unit(column), 1.0, numeric=True))
    yield TableBlock(title, heads, rows)


def _helps(stand: Stand, labels: Labels) -> Iterator[tuple[str, str]]:
    """Yield what would make the error smaller."""
    row = _survey_parts(stand)
    if row is not None and row["helps_most"]:
        yield labels("report.helps_most"), labels.word(row["helps_most"])


def _grid(stand: Stand, labels: Labels) -> Iterator[tuple[str, str]]:
    """Yield the error of the survey by differences between neighbours, where plots lie on a grid."""
    rows = stand.grid_errors.filter((pl.col("scope") == "survey") & (pl.col("status") == ESTIMATED))
    for row in rows.head(1).iter_rows(named=True):
        if row[f"{_SE}_local"] is None or row[_SE] is None:
            continue
        yield (
            labels("report.grid"),
            labels(
                "report.grid_is",
                local=_number(row[f"{_SE}_local"]),
                random=_number(row[_SE]),
                comparison=labels.word(str(row["comparison"])),
            ),
        )


def _readings(stand: Stand, labels: Labels) -> Iterator[tuple[str, str]]:
    """Yield what other means of readings would give, and what was taken off for random errors."""
    others = stand.section_effect.filter(pl.col("used") != "yes").drop_nulls("difference_pct")
    said = [
        labels.count(
            "report.section_is",
            int(stems),
            stems=whole(stems),
            mean=labels.word(mean),
            pct=_signed(difference),
        )
        for mean, difference, stems in others.select("mean", "difference_pct", "n_stems").iter_rows()
    ]
    if said:
        yield labels("report.section"), " ".join(said)
    log = stand.instrument_log
    taken_off = float(log["basal_area_taken_off_m2"].sum()) if log.height else 0.0
    if taken_off > 0:
        yield labels("report.taken_off"), labels("report.taken_off_is", area=_number(taken_off))


def _checks(stand: Stand, labels: Labels) -> Iterator[tuple[str, str]]:
    """Yield how well plots that were measured twice agree."""
    for row in stand.check_summary.filter(pl.col("group") == "all").head(1).iter_rows(named=True):
        said = ""
        if row["n_pairs"] and row["bias_low_mm"] is not None and row["within_pct"] is not None:
            said = labels.count(
                "report.checked_pairs",
                int(row["n_pairs"]),
                bias=_signed(row["bias_mm"]),
                limits=f"{_signed(row['bias_low_mm'])} – {_signed(row['bias_high_mm'])}",
                within=f"{row['within_pct']:.0f}",
            )
        missed = labels(
            "report.checked_missed", missed=whole(row["n_missed"]) or "0", extra=whole(row["n_extra"]) or "0"
        )
        yield labels("report.checked"), f"{said} {missed}".strip()


def _number(value: float) -> str:
    """Return a figure of the errors, with two decimals or two figures."""
    return texts(np.array([value]), _DECIMALS)[0]


def _signed(value: float) -> str:
    """Return a difference with its sign, to a hundredth."""
    return f"{value:+.2f}".replace("-", "−").replace("+0.00", "0.00").replace("−0.00", "0.00")
