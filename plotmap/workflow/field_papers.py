"""The order of the stages of papers for the crew: read, work out, draw. No stem need have been measured yet."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from plotmap.errors import SettingsError
from plotmap.fielddata import read_survey
from plotmap.fielddata.plot_workbook import check_workbook_file, write_plot_workbook
from plotmap.model.field_papers import UP_TO_CM
from plotmap.model.findings import Findings
from plotmap.model.stages import FIELD_SHEET_STAGES
from plotmap.plots.distances import distance_frame, distance_tables
from plotmap.plots.sheet_rows import sheet_rows
from plotmap.stems.painted import (
    band_marks,
    band_strip,
    colour_findings,
    instrument_state,
    plain_state,
)

if TYPE_CHECKING:
    from plotmap.model.field_papers import BandStrip
    from plotmap.model.limits import DistanceTables
    from plotmap.model.survey import Survey
    from plotmap.output.fieldpapers.strip import StripWritten


@dataclass(frozen=True, slots=True)
class BandsMade:
    """A strip of bands that was written.

    Attributes
    ----------
    strip : BandStrip
        What it shows.
    written : StripWritten
        Pages and pieces.
    findings : Findings
        About the settings, the instruments and the colours.
    path : Path
        The file.
    """

    strip: BandStrip
    written: StripWritten
    findings: Findings
    path: Path


def make_bands(
    folder: Path | str,
    out: Path | str | None = None,
    *,
    instrument: str | None = None,
    kind: str | None = None,
    up_to_cm: float | None = None,
    size: str = "A4",
) -> BandsMade:
    """Write the class bands of a survey as a strip at true scale, for one instrument or any.

    Parameters
    ----------
    folder : Path or str
        Survey folder; only settings and instruments are used.
    out : Path or str, optional
        File to write; ``bands.pdf`` in the survey folder where not given.
    instrument : str, optional
        Instrument whose last check shifts the edges; without it nothing is corrected.
    kind : str, optional
        ``caliper`` or ``tape``, where no instrument is named; without it a tape where classes are of girths.
    up_to_cm : float, optional
        Diameter that size classes and a band open above reach, in cm.
    size : str
        Of the paper.

    Raises
    ------
    SettingsError
        The folder or its settings have faults, the instrument is not known or of another kind, or there is no band.
    OutputError
        The file cannot be written.
    """
    from plotmap.output.fieldpapers import write_bands  # noqa: PLC0415 - heavy: only when needed

    folder = Path(folder)
    target = Path(out) if out is not None else folder / "bands.pdf"
    survey = read_survey(folder)
    findings = [_of_files(survey, "survey.toml", survey.sources.get("instruments", ""))]
    state = plain_state(survey.settings, kind)
    if instrument is not None:
        state, found = instrument_state(survey, instrument)
        findings.append(found)
        if kind is not None and kind != state.kind:
            raise SettingsError(
                f"kind is {kind}, but instrument {instrument} is a {state.kind}: leave the kind out, or name another "
                "instrument."
            )
    end_cm = UP_TO_CM if up_to_cm is None else up_to_cm
    strip = band_strip(survey, state, end_cm)
    findings.append(colour_findings(band_marks(survey.settings, end_cm), survey.settings))
    written = write_bands(strip, target, survey.settings, folder, size)
    return BandsMade(strip, written, Findings.join(findings), target)


@dataclass(frozen=True, slots=True)
class DistancesMade:
    """Tables of distances that were written.

    Attributes
    ----------
    tables : DistanceTables
        What they hold.
    n_pages : int
        Pages of the PDF.
    missing_letters : str
        Letters that no font had.
    findings : Findings
        About settings and plots.
    path : Path
        The PDF.
    """

    tables: DistanceTables
    n_pages: int
    missing_letters: str
    findings: Findings
    path: Path


def make_distances(
    folder: Path | str,
    out: Path | str | None = None,
    csv: Path | str | None = None,
    *,
    up_to_cm: float | None = None,
) -> DistancesMade:
    """Write tables of limiting distances, and of radii and sides on slopes, for the designs of a survey.

    Parameters
    ----------
    folder : Path or str
        Survey folder; only settings and plots are used.
    out : Path or str, optional
        PDF to write; ``distances.pdf`` in the survey folder where not given.
    csv : Path or str, optional
        CSV to write too, with every distance to the millimetre; none where not given.
    up_to_cm : float, optional
        Largest diameter, in cm.

    Raises
    ------
    SettingsError
        The folder or its settings have faults, or there is nothing to make a table of.
    OutputError
        A file cannot be written.
    """
    from plotmap.output.fieldpapers import (  # noqa: PLC0415 - heavy: only when needed
        check_distance_csv,
        write_distance_csv,
        write_distances,
    )

    folder = Path(folder)
    target = Path(out) if out is not None else folder / "distances.pdf"
    survey = read_survey(folder)
    tables = distance_tables(survey, UP_TO_CM if up_to_cm is None else up_to_cm)
    frame = distance_frame(tables)
    if csv is not None:
        check_distance_csv(Path(csv), frame.columns)
    n_pages, missing = write_distances(tables, target, survey.settings, folder)
    if csv is not None:
        write_distance_csv(frame, Path(csv))
    findings = _of_files(survey, "survey.toml")
    return DistancesMade(tables, n_pages, missing, findings, target)


@dataclass(frozen=True, slots=True)
class SheetsMade:
    """Field sheets that were written.

    Attributes
    ----------
    findings : Findings
        About settings, compartments and plots.
    n_plots : int
        Plots with a sheet; 0 where errors stopped it, and nothing was written.
    missing_letters : str
        Letters that no font had.
    path : Path
        The PDF.
    """

    findings: Findings
    n_plots: int
    missing_letters: str
    path: Path


def make_sheets(
    folder: Path | str,
    out: Path | str | None = None,
    progress: Callable[[str], None] = lambda _stage: None,
    *,
    plots: Sequence[str] = (),
    workbook: Path | str | None = None,
) -> SheetsMade:
    """Write a field sheet for each plot of a survey: before any stem is measured, or again.

    Parameters
    ----------
    folder : Path or str
        Survey folder; settings, compartments, plots and species are used.
    out : Path or str, optional
        PDF to write; ``fieldsheets.pdf`` in the survey folder where not given.
    progress : callable
        Called with the name of each stage as it begins.
    plots : sequence of str
        Plots wanted; all where none is named.
    workbook : Path or str, optional
        XLSX to write too, with the plots filled in and blank sheets of stems; must not be there yet.

    Raises
    ------
    SettingsError
        The folder or its settings have faults, or a plot is not known.
    OutputError
        The file cannot be written.
    """
    from plotmap.output.fieldpapers import FieldSheets, write_field_sheets  # noqa: PLC0415 - heavy

    folder = Path(folder)
    target = Path(out) if out is not None else folder / "fieldsheets.pdf"
    progress(FIELD_SHEET_STAGES[0])
    survey = read_survey(folder)
    sources = survey.sources
    findings = _of_files(
        survey, "survey.toml", sources.get("plots", "plots"), sources.get("compartments", "compartments")
    )
    if findings.has_errors:
        return SheetsMade(findings, 0, "", target)
    if workbook is not None:
        check_workbook_file(Path(workbook))
    progress(FIELD_SHEET_STAGES[1])
    rows = sheet_rows(survey, plots)
    homes = survey.compartments
    sheets = FieldSheets(
        rows,
        band_marks(survey.settings, UP_TO_CM),
        tuple(survey.species["species"].drop_nulls().to_list()),
        survey.crs,
        dict(zip(homes["compartment"].astype(str), homes["name"].fillna("").astype(str), strict=True)),
    )
    progress(FIELD_SHEET_STAGES[2])
    n_pages, missing = write_field_sheets(sheets, target, survey.settings, folder)
    if workbook is not None:
        write_plot_workbook(survey, Path(workbook), plots, [mark.name for mark in sheets.marks])
    return SheetsMade(findings, n_pages, missing, target)


def _of_files(survey: Survey, *names: str) -> Findings:
    """Return the findings of reading that are about some files."""
    frame = survey.findings.frame
    return Findings(frame.filter(frame["file"].is_in([name for name in names if name])))
