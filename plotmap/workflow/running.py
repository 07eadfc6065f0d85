"""From a survey folder to written results: read, check, compute, write."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from plotmap.errors import OutputError
from plotmap.fielddata import read_survey
from plotmap.model.findings import Findings
from plotmap.model.on_request import ALSO
from plotmap.model.paper import SheetWish
from plotmap.model.stages import SHEET_STAGES, STAGES
from plotmap.model.survey import Stand

if TYPE_CHECKING:
    from plotmap.output.paper.sheet import SheetsWritten

from plotmap.workflow.computing import Progress, compile_checked, compute

_CARDS_TOLD = 100
"""Cards of a report after which its progress is told."""


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
    checked = compute(survey)
    if checked.findings.has_errors:
        written = write_stopped(checked.findings, target, protect=folder)
        return RunResult(checked.findings, None, target, written)
    progress(STAGES[2])
    stand = compile_checked(checked)
    write_results(stand, target, folder, progress, also)
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
    checked = compute(survey)
    if checked.findings.has_errors:
        return checked.findings, None, target
    progress(SHEET_STAGES[2])
    stand = compile_checked(checked)
    progress(SHEET_STAGES[3])
    return stand.findings, write_sheet(stand, target, wish, folder), target


def write_results(
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


def _tell_cards(progress: Progress, card: int, of: int) -> None:
    """Tell now and then how many cards of a long report are written."""
    if card % _CARDS_TOLD == 0:
        progress(f"{STAGES[6]}: {card} of {of}")
