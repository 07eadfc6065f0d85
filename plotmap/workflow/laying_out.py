"""From settings and compartments to planned plots."""

from __future__ import annotations

from pathlib import Path

from plotmap.errors import SettingsError
from plotmap.fielddata import read_ground, read_survey
from plotmap.layout import plan_layout
from plotmap.model.findings import Findings
from plotmap.model.layout import Ground, Pilot, PlotLayout
from plotmap.model.stages import LAYOUT_STAGES
from plotmap.workflow.computing import Progress, compute, refuse_errors


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
        checked = compute(read_survey(where))
    except SettingsError as error:
        raise SettingsError(f"survey.toml, [layout] pilot is {named!r}: {error}") from error
    refuse_errors(checked)
    return Pilot(checked.survey, checked.values)
