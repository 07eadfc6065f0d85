"""The order of the stages: read, check, compute, write. Nothing else in the project knows it."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl

from plotmap.change import bring_together, compare_occasions
from plotmap.errors import LeakError, OutputError, SettingsError, SurveyHasErrorsError
from plotmap.fielddata import read_ground, read_survey, without_follow_ons
from plotmap.layout import plan_layout
from plotmap.model.change import Change, Occasion
from plotmap.model.check_table import CheckComparison
from plotmap.model.field_tables_thinning import PRESCRIPTIONS
from plotmap.model.finding_rules import Severity
from plotmap.model.findings import Findings
from plotmap.model.layout import Ground, Pilot, PlotLayout
from plotmap.model.ledger import LedgerEntry, ledger_frame
from plotmap.model.on_request import ALSO
from plotmap.model.paper import SheetWish
from plotmap.model.plot_table import PlotValues
from plotmap.model.sharing import ABOUT_FILE, Audience, Hidden, Secrets
from plotmap.model.stages import COMPARE_STAGES, LAYOUT_STAGES, SHARE_STAGES, SHEET_STAGES, STAGES
from plotmap.model.survey import Stand, Survey
from plotmap.model.thinning import Proposals, Standing
from plotmap.plots import compute_plots
from plotmap.stand import check_samples, compartment_figures, error_parts, estimate_stand, stem_parts
from plotmap.stems import compare_checks, measure_stems

if TYPE_CHECKING:
    from plotmap.output.paper.sheet import SheetsWritten

Progress = Callable[[str], None]
"""Called with the name of each stage as it begins."""


_CARDS_TOLD = 100
"""Cards of a report after which its progress is told."""
_NAMED_BY_STEMS = {"instruments": "instrument", "species": "species"}
"""Tables whose rows are used only where a stem names them, and by which column."""


@dataclass(frozen=True, slots=True)
class RunResult:
    """What a run came to.

    Attributes
    ----------
    findings : Findings
        All findings.
    stand : Stand or None
        The results; None where errors stopped the run.
    folder : Path
        Folder the results were written to.
    findings_file : Path
        Where the findings were written.
    """

    findings: Findings
    stand: Stand | None
    folder: Path
    findings_file: Path


@dataclass(frozen=True, slots=True)
class _Checked:
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
    return _compute(survey).findings


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
    return _compile(_compute(survey))


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

    checked = _compute(survey)
    _refuse_errors(checked)
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


def run(
    folder: Path | str,
    out: Path | str | None = None,
    progress: Progress = lambda _stage: None,
    *,
    also: Collection[str] = (),
) -> RunResult:
    """Read a survey folder, compute everything and write all results, or nothing.

    Parameters
    ----------
    folder : Path or str
        Survey folder.
    out : Path or str, optional
        Result folder; ``results`` in the survey folder where not given.
    progress : callable
        Called with the name of each stage as it begins.
    also : collection of str
        What else to write: words of `plotmap.model.on_request.ALSO`.

    Returns
    -------
    RunResult
        With ``stand`` None where errors in the data stopped the run; then only the findings were written.

    Raises
    ------
    SettingsError
        The folder does not exist, or ``survey.toml`` is missing or has faults.
    OutputError
        The results cannot be written, or `also` has another word; what was there is untouched.
    LedgerError
        A fault of plotmap.
    """
    from plotmap.output import check_target, write_stopped  # noqa: PLC0415 - heavy: only when needed

    if unknown := sorted(set(also) - set(ALSO)):
        raise OutputError(f"also has {unknown[0]!r}, but must be of {', '.join(ALSO)}. Name those you want.")
    folder = Path(folder)
    target = Path(out) if out is not None else folder / "results"
    progress(STAGES[0])
    survey = read_survey(folder)
    check_target(target, protect=folder)
    progress(STAGES[1])
    checked = _compute(survey)
    if checked.findings.has_errors:
        written = write_stopped(checked.findings, target, protect=folder)
        return RunResult(checked.findings, None, target, written)
    progress(STAGES[2])
    stand = _compile(checked)
    _write(stand, target, folder, progress, also)
    return RunResult(stand.findings, stand, target, target / "findings.csv")


def sheet(
    folder: Path | str,
    wish: SheetWish,
    out: Path | str | None = None,
    progress: Progress = lambda _stage: None,
) -> tuple[Findings, SheetsWritten | None, Path]:
    """Read a survey folder, compute everything and write a map sheet of it.

    Parameters
    ----------
    folder : Path or str
        Survey folder.
    wish : SheetWish
        Paper, scale, theme.
    out : Path or str, optional
        File to write; ``sheet.pdf`` in the survey folder where not given.
    progress : callable
        Called with the name of each stage as it begins.

    Returns
    -------
    findings : Findings
        All findings.
    written : SheetsWritten or None
        What was written; None where errors in the data stopped it, and nothing was.
    path : Path
        The file.

    Raises
    ------
    SettingsError, OutputError
        As from `run` and `plotmap.output.paper.write_sheet`.
    """
    from plotmap.output.paper import check_sheet_file, check_wish, write_sheet  # noqa: PLC0415 - heavy

    folder = Path(folder)
    target = Path(out) if out is not None else folder / "sheet.pdf"
    check_wish(wish)
    progress(SHEET_STAGES[0])
    survey = read_survey(folder)
    check_sheet_file(target)
    progress(SHEET_STAGES[1])
    checked = _compute(survey)
    if checked.findings.has_errors:
        return checked.findings, None, target
    progress(SHEET_STAGES[2])
    stand = _compile(checked)
    progress(SHEET_STAGES[3])
    return stand.findings, write_sheet(stand, target, wish, folder), target


@dataclass(frozen=True, slots=True)
class ShareResult:
    """What making results for others came to.

    Attributes
    ----------
    findings : Findings
        All findings, for the house.
    hidden : Hidden or None
        What was put together; None where errors in the data stopped it and nothing was written.
    folder : Path
        Folder the results were written to.
    """

    findings: Findings
    hidden: Hidden | None
    folder: Path


def share(
    folder: Path | str,
    audience: Audience | str,
    out: Path | str | None = None,
    progress: Progress = lambda _stage: None,
) -> ShareResult:
    """Read a survey folder and write what others may see of it, tested for leaks, or nothing.

    Parameters
    ----------
    folder : Path or str
        Survey folder.
    audience : Audience or str
        ``managers`` or ``public``; `docs/sharing.md` says what each is given.
    out : Path or str, optional
        Result folder; ``shared_managers`` or ``shared_public`` in the survey folder where not given.
    progress : callable
        Called with the name of each stage as it begins.

    Returns
    -------
    ShareResult
        With ``hidden`` None where errors in the data stopped it.

    Raises
    ------
    SettingsError
        As from `run`, or `audience` is another word.
    OutputError
        The results cannot be written, or the folder holds files of others; what was there is untouched.
    LeakError
        Something that must be kept back was found in a file; nothing was published.
    """
    from plotmap.output import SHARE, check_target, foreign_files  # noqa: PLC0415 - heavy
    from plotmap.sharing import (  # noqa: PLC0415
        about_sharing,
        hide_species,
        secrets_of,
        share_stand,
        without_figure,
    )

    if audience not in list(Audience):
        raise SettingsError(f"audience is {str(audience)!r}, but must be one of {', '.join(Audience)}.")
    audience, folder = Audience(audience), Path(folder)
    target = Path(out) if out is not None else folder / f"shared_{audience}"
    progress(SHARE_STAGES[0])
    survey = read_survey(folder)
    check_target(target, protect=folder, kind=SHARE)
    if foreign := foreign_files(target, SHARE):
        raise OutputError(
            f"{target}: this folder also holds {', '.join(foreign[:3])}, which would be shared without a test. Move "
            "what plotmap did not write elsewhere, or name another folder."
        )
    progress(SHARE_STAGES[1])
    checked = _compute(survey)
    if checked.findings.has_errors:
        return ShareResult(checked.findings, None, target)
    progress(SHARE_STAGES[2])
    for_equations, values, hidden = hide_species(survey, checked.values)
    gaps = without_figure(for_equations.settings, for_equations.species, hidden)
    stand = _compile(replace(checked, survey=for_equations, values=values))
    shared = share_stand(stand, hidden, audience, gaps=gaps)
    secrets = secrets_of(survey, stand, hidden)

    def finish(place: Path) -> None:
        """Say what was changed, and refuse to publish a leak."""
        (place / ABOUT_FILE).write_text(about_sharing(survey.settings, audience), "utf-8", newline="\n")
        progress(SHARE_STAGES[-1])
        _refuse_leaks(place, secrets)

    _write(shared, target, folder, progress, (), finish=finish)
    return ShareResult(checked.findings, hidden, target)


def _refuse_leaks(place: Path, secrets: Secrets) -> None:
    """Raise where a file to be shared holds a secret."""
    from plotmap.output.webmap.packing import unpacked  # noqa: PLC0415
    from plotmap.sharing import leaks  # noqa: PLC0415

    found = leaks(place, secrets, unpacked)
    if found:
        told = list(dict.fromkeys(f"{leak.file} ({leak.where}): {leak.kind}" for leak in found))
        shown = [*told[:5], *([f"and {len(told) - 5} more"] if len(told) > 5 else [])]  # noqa: PLR2004
        raise LeakError(
            f"nothing was shared, since the leak test found what must be kept back: {'; '.join(shown)}. Look at the "
            "title, the names of compartments and strata, and [labels] own for such names. A text that may be shown "
            "all the same goes into [share] may_show. Otherwise this is a fault of plotmap: please report it."
        )


def compare_surveys(old: Survey, new: Survey, progress: Progress = lambda _stage: None) -> Change:
    """Compute what changed between two surveys of one forest.

    Parameters
    ----------
    old, new : Survey
        As `plotmap.read_survey` gives them.
    progress : callable
        Called with the name of each stage as it begins.

    Returns
    -------
    Change
        Changes of compartments, strata and the survey, pairs of plots, stems followed and findings.

    Raises
    ------
    ComparisonError
        The surveys measured different things (see `plotmap.change.bring_together`).
    SurveyHasErrorsError
        One of the surveys has findings of severity error.
    """
    ours, theirs, comparison = bring_together(old.settings, new.settings)
    progress(COMPARE_STAGES[0])
    before = _occasion(replace(old, settings=ours))
    progress(COMPARE_STAGES[1])
    after = _occasion(replace(new, settings=theirs))
    progress(COMPARE_STAGES[2])
    return compare_occasions(before, after, comparison)


def compare(
    old: Path | str, new: Path | str, out: Path | str | None = None, progress: Progress = lambda _stage: None
) -> tuple[Change, Path]:
    """Read two survey folders, compare them and write all results, or nothing.

    Parameters
    ----------
    old, new : Path or str
        Survey folders.
    out : Path or str, optional
        Result folder; ``change`` in the folder of the new survey where not given.
    progress : callable
        Called with the name of each stage as it begins.

    Returns
    -------
    change : Change
        What was computed.
    folder : Path
        Where it was written.

    Raises
    ------
    SettingsError
        A folder does not exist, or its ``survey.toml`` is missing or has faults.
    ComparisonError, SurveyHasErrorsError
        As from `compare_surveys`.
    OutputError
        The results cannot be written; what was there is untouched.
    """
    from plotmap.output import COMPARE, check_target, publish, write_change  # noqa: PLC0415 - heavy

    folders = Path(old), Path(new)
    target = Path(out) if out is not None else folders[1] / "change"
    surveys = [read_survey(folder) for folder in folders]
    for folder in folders:
        check_target(target, protect=folder, kind=COMPARE)
    change = compare_surveys(surveys[0], surveys[1], progress)
    progress(COMPARE_STAGES[3])
    with publish(target, protect=folders[1], kind=COMPARE) as place:
        write_change(change, place)
    return change, target


def lay_out(
    folder: Path | str, out: Path | str | None = None, progress: Progress = lambda _stage: None
) -> tuple[PlotLayout | None, Findings, Path]:
    """Lay out sample plots before the field, and write them, or nothing.

    Parameters
    ----------
    folder : Path or str
        Survey folder with ``survey.toml`` and compartments; plots and stems are not looked at.
    out : Path or str, optional
        Result folder; ``layout`` in the survey folder where not given.
    progress : callable
        Called with the name of each stage as it begins.

    Returns
    -------
    layout : PlotLayout or None
        What was computed; None where the compartments have errors, and then nothing was written.
    findings : Findings
        Of the compartments.
    folder : Path
        Where it was written.

    Raises
    ------
    SettingsError
        The folder, ``survey.toml`` or the layer of what is excluded cannot be used, or the settings ask for what
        cannot be.
    SurveyHasErrorsError
        The pilot survey has findings of severity error.
    OutputError
        The results cannot be written; what was there is untouched.
    """
    from plotmap.output import LAYOUT, check_target, publish, write_layout  # noqa: PLC0415 - heavy

    folder = Path(folder)
    target = Path(out) if out is not None else folder / "layout"
    progress(LAYOUT_STAGES[0])
    ground = read_ground(folder)
    check_target(target, protect=folder, kind=LAYOUT)
    if ground.findings.has_errors:
        return None, ground.findings, target
    progress(LAYOUT_STAGES[1])
    pilot = _pilot(ground)
    progress(LAYOUT_STAGES[2])
    layout = plan_layout(ground, pilot)
    progress(LAYOUT_STAGES[3])
    with publish(target, protect=folder, kind=LAYOUT) as place:
        write_layout(layout, place, folder)
    return layout, layout.findings, target


def _pilot(ground: Ground) -> Pilot | None:
    """Compute the plots of the survey that ``[layout] pilot`` names; None where it names none."""
    named = ground.settings.layout.pilot
    if not named:
        return None
    where = ground.folder / named
    try:
        checked = _compute(read_survey(where))
    except SettingsError as error:
        raise SettingsError(f"survey.toml, [layout] pilot is {named!r}: {error}") from error
    _refuse_errors(checked)
    return Pilot(checked.survey, checked.values)


def _occasion(survey: Survey) -> Occasion:
    """Compute one of two surveys as far as their comparison needs it."""
    checked = _compute(survey)
    _refuse_errors(checked)
    return Occasion(survey, checked.values, compartment_figures(survey, checked.values))


def _compute(survey: Survey) -> _Checked:
    """Run the stages of stems and plots, which make the rest of the findings."""
    stems = measure_stems(survey)
    values = compute_plots(survey, stems)
    checks = compare_checks(survey, stems)
    samples = check_samples(survey, values)
    findings = Findings.join([survey.findings, stems.findings, values.findings, checks.findings, samples])
    told = without_follow_ons(findings, survey.sources, survey.settings)
    return _Checked(survey, values, checks, told, stems.instrument_log, stems.section_effect)


def _refuse_errors(checked: _Checked) -> None:
    """Raise where a survey has errors."""
    if checked.findings.has_errors:
        n_errors = checked.findings.of(Severity.ERROR).height
        words = "1 error" if n_errors == 1 else f"{n_errors} errors"
        raise SurveyHasErrorsError(
            f"{checked.survey.folder}: the survey has {words}, so nothing was computed. "
            "plotmap.check lists them all with what to do."
        )


def _compile(checked: _Checked) -> Stand:
    """Estimate everything and balance the ledger."""
    _refuse_errors(checked)
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


def _tell_cards(progress: Progress, card: int, of: int) -> None:
    """Tell now and then how many cards of a long report are written."""
    if card % _CARDS_TOLD == 0:
        progress(f"{STAGES[6]}: {card} of {of}")


def _write(
    stand: Stand,
    target: Path,
    folder: Path,
    progress: Progress,
    also: Collection[str],
    *,
    finish: Callable[[Path], None] | None = None,
) -> None:
    """Write every result into a folder beside the target and put it in place in one step.

    `finish`, for results that are shared, is called with that folder when all is written: what it raises leaves
    the target as it was.
    """
    from plotmap.output import (  # noqa: PLC0415 - heavy: only when needed
        RUN,
        SHARE,
        publish,
        write_findings,
        write_geojson,
        write_geopackage,
        write_geoparquet,
        write_ledger,
        write_map,
        write_tables,
        write_workbook,
    )
    from plotmap.output.report import write_report_html, write_report_pdf  # noqa: PLC0415 - heavy

    with publish(target, protect=folder, kind=SHARE if finish else RUN) as place:
        progress(STAGES[3])
        write_geopackage(stand, place / "stand.gpkg")
        for word, write in {"geoparquet": write_geoparquet, "geojson": write_geojson}.items():
            if word in also:
                write(stand, place / word)
        progress(STAGES[4])
        write_tables(stand, place / "tables")
        write_workbook(stand, place / "tables.xlsx")
        write_findings(stand.findings, place / "findings.csv")
        write_ledger(stand.ledger, place / "ledger.csv")
        progress(STAGES[5])
        write_map(stand, place / "map.html")
        progress(STAGES[6])
        write_report_html(stand, place / "report.html", folder)
        write_report_pdf(
            stand, place / "report.pdf", folder, lambda card, of: _tell_cards(progress, card, of)
        )
        if finish:
            finish(place)
