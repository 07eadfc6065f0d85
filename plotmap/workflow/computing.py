"""From a survey to everything that is computed of it: stems, plots, stand, proposals."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import polars as pl

from plotmap.errors import SurveyHasErrorsError
from plotmap.fielddata import without_follow_ons
from plotmap.model.check_table import CheckComparison
from plotmap.model.field_tables_thinning import PRESCRIPTIONS
from plotmap.model.finding_rules import Severity
from plotmap.model.findings import Findings
from plotmap.model.ledger import LedgerEntry, ledger_frame
from plotmap.model.plot_table import PlotValues
from plotmap.model.survey import Stand, Survey
from plotmap.model.thinning import Proposals, Standing
from plotmap.plots import compute_plots
from plotmap.stand import check_samples, error_parts, estimate_stand, stem_parts
from plotmap.stems import compare_checks, measure_stems

Progress = Callable[[str], None]
"""Called with the name of each stage as it begins."""


_NAMED_BY_STEMS = {"instruments": "instrument", "species": "species"}
"""Tables whose rows are used only where a stem names them, and by which column."""


@dataclass(frozen=True, slots=True)
class Checked:
    """A survey with everything computed that checks need."""

    survey: Survey
    values: PlotValues
    checks: CheckComparison
    findings: Findings
    instrument_log: pl.DataFrame
    section_effect: pl.DataFrame


def check(survey: Survey) -> Findings:
    """Return all findings of a survey: of reading, of stems and of plots.

    Parameters
    ----------
    survey : Survey
        As `plotmap.read_survey` gives it.

    Returns
    -------
    Findings
        Errors first. A survey with errors cannot be compiled.
    """
    return compute(survey).findings


def compile_survey(survey: Survey) -> Stand:
    """Compute everything from a survey without errors.

    Parameters
    ----------
    survey : Survey
        As `plotmap.read_survey` gives it.

    Returns
    -------
    Stand
        Compartments and plots as GeoDataFrames, stems, classes, strata, total, findings and ledger.

    Raises
    ------
    SurveyHasErrorsError
        The survey has findings of severity error.
    LedgerError
        Rows read are not rows used plus rows set aside: a fault of plotmap.
    """
    return compile_checked(compute(survey))


def propose_thinning(survey: Survey) -> Proposals:
    """Propose thinnings by the rules of a survey's table of prescriptions.

    Parameters
    ----------
    survey : Survey
        As `plotmap.read_survey` gives it, with rules.

    Returns
    -------
    Proposals
        A row for every compartment, what is taken from each class of those that are proposed, and the cautions that
        belong to them. Nothing is written.

    Raises
    ------
    SurveyHasErrorsError
        The survey has findings of severity error.
    """
    from plotmap.thinning import propose  # noqa: PLC0415 - sparse arrays: only when needed

    checked = compute(survey)
    refuse_errors(checked)
    estimates = estimate_stand(survey, checked.values)
    standing = Standing(
        compartments=estimates.compartments,
        stand_density=estimates.stand_density,
        volumes=estimates.volumes.volumes,
        visits=_visits(survey, checked.values),
    )
    return propose(survey.prescriptions, stem_parts(survey, checked.values), standing, survey.settings)


def _visits(survey: Survey, values: PlotValues) -> pl.DataFrame:
    """Return the first and the last day on which plots of each compartment were measured."""
    days = [str(day)[:10] for day in survey.plots["date"].tolist()]
    dates = pl.DataFrame(
        {"plot": survey.plots["plot"].tolist(), "date": days}, schema={"plot": pl.String, "date": pl.String}
    ).with_columns(pl.col("date").str.to_date("%Y-%m-%d", strict=False))
    placed = values.units.select("plot", "compartment").join(dates, on="plot", maintain_order="left")
    return placed.group_by("compartment", maintain_order=True).agg(
        pl.col("date").min().alias("measured_from"), pl.col("date").max().alias("measured_to")
    )


def compute(survey: Survey) -> Checked:
    """Run the stages of stems and plots, which make the rest of the findings."""
    stems = measure_stems(survey)
    values = compute_plots(survey, stems)
    checks = compare_checks(survey, stems)
    samples = check_samples(survey, values)
    findings = Findings.join([survey.findings, stems.findings, values.findings, checks.findings, samples])
    told = without_follow_ons(findings, survey.sources, survey.settings)
    return Checked(survey, values, checks, told, stems.instrument_log, stems.section_effect)


def refuse_errors(checked: Checked) -> None:
    """Raise where a survey has errors."""
    if checked.findings.has_errors:
        n_errors = checked.findings.of(Severity.ERROR).height
        words = "1 error" if n_errors == 1 else f"{n_errors} errors"
        raise SurveyHasErrorsError(
            f"{checked.survey.folder}: the survey has {words}, so nothing was computed. "
            "plotmap.check lists them all with what to do."
        )


def compile_checked(checked: Checked) -> Stand:
    """Estimate everything and balance the ledger."""
    refuse_errors(checked)
    survey, values = checked.survey, checked.values
    estimates = estimate_stand(survey, values)
    return Stand(
        settings=survey.settings,
        crs=survey.crs,
        inputs=survey.inputs,
        compartments=estimates.compartments,
        plots=values.plots,
        trees=values.trees,
        tallied=values.tallied,
        instrument_log=checked.instrument_log,
        section_effect=checked.section_effect,
        classes=estimates.tables.classes,
        class_totals=estimates.tables.class_totals,
        species_totals=estimates.tables.species_totals,
        strata=estimates.strata,
        survey_total=estimates.survey_total,
        grid_errors=estimates.grid_errors,
        model_based=estimates.model_based,
        error_parts=error_parts(
            survey,
            values,
            checked.instrument_log,
            estimates.compartments,
            estimates.strata,
            estimates.survey_total,
        ),
        height_curves=estimates.height_curves,
        stand_density=estimates.stand_density,
        volumes=estimates.volumes.volumes,
        volume_equations=estimates.volumes.equations,
        class_sums=estimates.class_sums,
        species_sums=estimates.species_sums,
        structure=estimates.structure,
        check_differences=checked.checks.differences,
        check_summary=checked.checks.summary,
        band_confusion=checked.checks.confusion,
        findings=checked.findings,
        ledger=ledger_frame(_ledger(survey, values, checked.checks)),
        map_layers=survey.map_layers,
    )


def _ledger(survey: Survey, values: PlotValues, checks: CheckComparison) -> list[LedgerEntry]:
    """Count for each table what was read, used and set aside; used is counted where it is used."""
    used = {
        "compartments": len(survey.compartments),
        "plots": values.units["plot"].n_unique(),
        "trees": values.trees.height,
        "tallies": values.tallied["source_row"].n_unique(),
        "instruments": survey.instruments.height,
        "species": survey.species.drop_nulls("source_row").height,  # others were added for equations
        "check_trees": checks.rows_used,
        "prescriptions": 0,
    }
    set_aside = pl.concat([values.set_aside, checks.set_aside])
    entries = []
    for table, source in survey.sources.items():
        aside = [
            (str(row["reason"]), int(row["rows"]))
            for row in set_aside.rows(named=True)
            if row["table"] == table
        ]
        if table in _NAMED_BY_STEMS:
            unnamed = used[table] - _named_by_stems(survey, table, _NAMED_BY_STEMS[table])
            used[table] -= unnamed
            aside += [("not named by any stem", unnamed)] if unnamed else []
        if table == PRESCRIPTIONS.name and survey.prescriptions.height:
            aside.append(("read for proposals only", survey.prescriptions.height))
        if survey.rows_blank[table]:
            aside.append(("blank row", survey.rows_blank[table]))
        aside += survey.rows_no_data[table].items()
        entries.append(LedgerEntry(source, table, survey.rows_read[table], used[table], tuple(aside)))
    return entries


def _named_by_stems(survey: Survey, table: str, column: str) -> int:
    """Return how many rows of a table name what some row of stems names too."""
    stems = (frame for frame in (survey.trees, survey.tallies, survey.check_trees) if column in frame.columns)
    named = pl.concat([frame[column] for frame in stems]).drop_nulls().unique()
    rows: pl.DataFrame = getattr(survey, table).drop_nulls("source_row")
    return rows.filter(pl.col(column).is_in(named.implode())).height
