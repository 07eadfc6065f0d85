"""From two survey folders to what changed between them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from plotmap.change import bring_together, compare_occasions
from plotmap.fielddata import read_survey
from plotmap.model.change import Change, Occasion
from plotmap.model.stages import COMPARE_STAGES
from plotmap.model.survey import Survey
from plotmap.stand import compartment_figures
from plotmap.workflow.computing import Progress, compute, refuse_errors


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


def _occasion(survey: Survey) -> Occasion:
    """Compute one of two surveys as far as their comparison needs it."""
    checked = compute(survey)
    refuse_errors(checked)
    return Occasion(survey, checked.values, compartment_figures(survey, checked.values))
