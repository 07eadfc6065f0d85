"""From a survey folder to results that others may see: hide, compute, write, search for leaks."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from plotmap.errors import LeakError, OutputError, SettingsError
from plotmap.fielddata import read_survey
from plotmap.model.findings import Findings
from plotmap.model.sharing import ABOUT_FILE, Audience, Hidden, Secrets
from plotmap.model.stages import SHARE_STAGES
from plotmap.workflow.computing import Progress, compile_checked, compute
from plotmap.workflow.running import write_results


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
    checked = compute(survey)
    if checked.findings.has_errors:
        return ShareResult(checked.findings, None, target)
    progress(SHARE_STAGES[2])
    for_equations, values, hidden = hide_species(survey, checked.values)
    gaps = without_figure(for_equations.settings, for_equations.species, hidden)
    stand = compile_checked(replace(checked, survey=for_equations, values=values))
    shared = share_stand(stand, hidden, audience, gaps=gaps)
    secrets = secrets_of(survey, stand, hidden)

    def finish(place: Path) -> None:
        """Say what was changed, and refuse to publish a leak."""
        (place / ABOUT_FILE).write_text(about_sharing(survey.settings, audience), "utf-8", newline="\n")
        progress(SHARE_STAGES[-1])
        _refuse_leaks(place, secrets)

    write_results(shared, target, folder, progress, (), finish=finish)
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
