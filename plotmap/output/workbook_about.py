"""What the first sheet of a workbook says: what the figures rest on, and what to be careful with."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import polars as pl

from plotmap.model.change import Change
from plotmap.model.finding_rules import Severity
from plotmap.model.labels import Labels, class_rule_words, labels_of
from plotmap.model.settings import Settings
from plotmap.output.workbook import Row


def about_stand(frames: dict[str, pl.DataFrame], settings: Settings) -> list[Row]:
    """Return the rows of the first sheet of a stand's workbook: what it rests on, and cautions.

    Parameters
    ----------
    frames : dict of str to polars.DataFrame
        Result tables by name.
    settings : Settings
        Of the survey; its language and labels are those of the rows.
    """
    labels = labels_of(settings)
    total = frames["survey_total"].row(0, named=True)
    aside = frames["plots"].drop_nulls("set_aside").group_by("set_aside").len().sort("set_aside")
    rows: list[Row] = [
        (labels("workbook.survey"), settings.survey.title or labels("workbook.without_title")),
        _confidence(labels, settings),
        (labels("workbook.size_classes"), class_rule_words(labels, settings.class_rule)),
        (labels("workbook.plots_in_estimates"), total["n_plots"]),
        (labels("workbook.compartments_covered"), total["n_compartments"]),
        (labels("workbook.area_covered"), total["area_ha"]),
        (labels("workbook.area_source"), total["area_source"] and labels.word(total["area_source"])),
        (labels("workbook.compartments_left_out"), total["n_left_out"]),
        (labels("workbook.area_left_out"), total["area_left_out_ha"]),
        *(
            (labels("workbook.plots_set_aside", reason=labels.word(reason)), count)
            for reason, count in aside.iter_rows()
        ),
        *_error(labels, frames["error_parts"]),
        *_readings(labels, frames["section_effect"], frames["instrument_log"]),
        *_checks(labels, frames["check_differences"], settings),
    ]
    cautions = _cautions(labels, frames, total, settings)
    return rows + [(labels("workbook.caution"), caution) for caution in cautions]


def about_change(change: Change, frames: dict[str, pl.DataFrame]) -> list[Row]:
    """Return the rows of the first sheet of a comparison's workbook.

    Parameters
    ----------
    change : Change
        What was computed; language and labels are those of the new survey.
    frames : dict of str to polars.DataFrame
        Its tables by name.
    """
    labels = labels_of(change.settings)
    total = frames["total_change"].row(0, named=True)
    old, new = (title or labels("workbook.without_title") for title in change.titles)
    caution = labels("workbook.caution")
    rows: list[Row] = [
        (labels("workbook.old_survey"), old),
        (labels("workbook.new_survey"), new),
        _confidence(labels, change.settings),
        (labels("workbook.change_compartments"), total["n_compartments"]),
        (labels("workbook.area_covered"), total["area_ha"]),
        (labels("workbook.compartments_left_out"), total["n_left_out"]),
        (labels("workbook.plots_old"), total["n_plots_old"]),
        (labels("workbook.plots_new"), total["n_plots_new"]),
        (labels("workbook.plots_twice"), total["n_paired"]),
        (labels("workbook.years_between"), total["years"]),
        (caution, labels("workbook.caution_blank")),
    ]
    differs = frames["comparison"].filter(pl.col("verdict") == "differs")["item"].to_list()
    if differs:
        rows.append((caution, labels("workbook.caution_differs", items=", ".join(differs))))
    for severity in Severity:
        count = change.findings.of(severity).height
        if count:
            said = labels("workbook.caution_change_findings", severity=labels.word(severity.value), n=count)
            rows.append((caution, said))
    return rows


def _confidence(labels: Labels, settings: Settings) -> Row:
    """Return the confidence of the limits."""
    pct = f"{100 * settings.survey.confidence:g}"
    return labels("workbook.confidence"), labels("workbook.confidence_is", pct=pct)


def _error(labels: Labels, parts: pl.DataFrame) -> Iterator[Row]:
    """Yield what the error of basal area is made of, and how many plots the target needs."""
    whole = parts.filter(pl.col("scope") == "survey")
    if whole.is_empty():
        return
    row = whole.row(0, named=True)
    error = "basal_area_m2_per_ha_se"
    shares = {
        labels("workbook.part_between_plots"): row[f"{error}_between_plots"],
        labels("workbook.part_readings"): row[f"{error}_readings"],
        labels("workbook.part_checks"): row[f"{error}_checks"],
        labels("workbook.part_tallies"): row[f"{error}_grouping"],
    }
    yield labels("workbook.standard_error"), row[error]
    for part, value in shares.items():
        said = value if value is not None else labels("workbook.not_known")
        yield labels("workbook.standard_error_part", part=part), said
    if row["helps_most"]:
        yield labels("workbook.helps_most"), labels.word(row["helps_most"])
    if row["n_plots_needed"] is not None:
        target = f"{row['target_error_pct']:g}"
        yield labels("workbook.plots_for_target", pct=target), row["n_plots_needed"]


def _readings(labels: Labels, sections: pl.DataFrame, log: pl.DataFrame) -> Iterator[Row]:
    """Yield what other means of readings would have given, and what was taken off for random errors."""
    others = sections.filter(pl.col("used") != "yes").drop_nulls("difference_pct")
    for mean, difference, stems in others.select("mean", "difference_pct", "n_stems").iter_rows():
        said = labels.word(mean)
        what = said if mean.startswith("girth") else labels("workbook.mean_of_readings", mean=said)
        shown = labels.count("workbook.difference", stems, pct=f"{difference:+.2f}")
        yield labels("workbook.basal_area_by", mean=what), shown
    taken_off = float(log["basal_area_taken_off_m2"].sum()) if log.height else 0.0
    if taken_off > 0:
        yield labels("workbook.taken_off"), taken_off


def _checks(labels: Labels, differences: pl.DataFrame, settings: Settings) -> list[Row]:
    """Return what check measurements were held against, where there are any."""
    if differences.is_empty():
        return []
    rule = settings.check
    tolerance = {"mm": f"{rule.tolerance_mm:g}", "pct": f"{rule.tolerance_pct:g}"}
    partners = {"m": f"{rule.match_position_m:g}", "mm": f"{rule.match_mm:g}"}
    return [
        (labels("workbook.plots_checked"), differences["plot"].n_unique()),
        (labels("workbook.check_tolerance"), labels("workbook.check_tolerance_is", **tolerance)),
        (labels("workbook.check_within"), labels("workbook.check_within_is", pct=f"{rule.min_within_pct:g}")),
        (labels("workbook.check_bias"), labels("workbook.check_bias_is", mm=f"{rule.bias_mm:g}")),
        (labels("workbook.check_partners"), labels("workbook.check_partners_are", **partners)),
    ]


def _cautions(
    labels: Labels, frames: dict[str, pl.DataFrame], total: dict[str, Any], settings: Settings
) -> Iterator[str]:
    """Yield what a reader must keep in mind, in sentences."""
    yield labels("workbook.caution_blank")
    if total["n_left_out"]:
        yield labels("workbook.caution_left_out", n=total["n_left_out"])
    if total["n_without_plots"]:
        yield labels("workbook.caution_without_plots", n=total["n_without_plots"])
    if total["n_one_plot"]:
        by_compartment = settings.estimates.sample_of == "compartment"
        samples = "compartments" if by_compartment else "strata"
        yield labels(f"workbook.caution_one_plot_{samples}", n=total["n_one_plot"])
    for severity in Severity:
        count = frames["findings"].filter(pl.col("severity") == severity.value).height
        if count:
            yield labels("workbook.caution_findings", severity=labels.word(severity.value), n=count)
