"""Tools that make papers for the crew: bands, tables of distances, field sheets."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from plotmap.model.field_tables import CALIPER, TAPE
from plotmap.model.paper import SIZES_MM
from plotmap.model.stages import FIELD_SHEET_STAGES
from plotmap.tools.declaration import Parameter, ParameterKind, Progress, Report, Tool
from plotmap.tools.findings_text import counted

_SURVEY = Parameter(
    "survey",
    ParameterKind.FOLDER_IN,
    "Survey folder: it holds survey.toml and the tables.",
    required=True,
)
_SIZE = Parameter("size", ParameterKind.CHOICE, "Size of the paper. Default: A4.", choices=tuple(SIZES_MM))
_PRINT = "Print at 100 %, without fitting to the page, and measure the check ruler before you use it."


def _bands(given: Mapping[str, Any], _progress: Progress) -> Report:
    """Write a strip of bands."""
    from plotmap.workflow import make_bands  # noqa: PLC0415

    made = make_bands(
        given["survey"],
        given.get("out"),
        instrument=given.get("instrument"),
        kind=given.get("kind"),
        up_to_cm=given.get("up_to"),
        size=given.get("size") or "A4",
    )
    state, bands = made.strip.state, made.strip.bands
    what = counted(len(bands), "band" if made.strip.of_settings else "class").replace("classs", "classes")
    pieces = counted(made.written.n_pieces, "piece")
    shift = (
        f"zero {state.zero_cm * 10:+.2f} mm and gain {state.gain:.4f} of {state.checked_on} are in their edges"
        if state.instrument
        else "without correction"
    )
    lines = [
        f"{what} for {f'{state.kind} {state.instrument}'.strip()}, {shift}; {pieces}: {made.path}",
        _PRINT,
    ]
    if state.instrument:
        lines.append(
            "In tallies made with these bands leave the column instrument blank: they are corrected already."
        )
    if not made.strip.of_settings:
        lines.append(
            "The letters are of the strip only: in tallies write the class, as in " + bands[0].mark.name + "."
        )
    lines += letters_line(made.written.missing_letters)
    lines.append(
        "Paints and solvents: mind data sheets, fresh air, skin and water. Never cover the scale or moving parts."
    )
    return Report(ok=True, findings=made.findings, lines=tuple(lines))


def _distances(given: Mapping[str, Any], _progress: Progress) -> Report:
    """Write tables of distances."""
    from plotmap.workflow import make_distances  # noqa: PLC0415

    made = make_distances(given["survey"], given.get("out"), given.get("csv"), up_to_cm=given.get("up_to"))
    tables = made.tables
    what = [f"factor {limits.baf_m2_per_ha:g} m²/ha" for limits in tables.angle_limits]
    what += [f"{lengths.kind} {lengths.level_m:.2f} m" for lengths in tables.lengths]
    ground = (
        "Plots are laid out along the ground: distances hold on every slope, and plotmap corrects the area."
        if tables.along_ground
        else "Distances are level: correct for the slope once, in the field, and nowhere else."
    )
    lines = [f"{', '.join(what)}; {counted(made.n_pages, 'page')}: {made.path}"]
    if given.get("csv"):
        lines.append(f"All distances: {given['csv']}")
    return Report(
        ok=True, findings=made.findings, lines=(*lines, ground, *letters_line(made.missing_letters))
    )


def _sheets(given: Mapping[str, Any], progress: Progress) -> Report:
    """Write field sheets."""
    from plotmap.workflow import make_sheets  # noqa: PLC0415

    made = make_sheets(
        given["survey"],
        given.get("out"),
        progress,
        plots=tuple(given.get("plots") or ()),
        workbook=given.get("workbook"),
    )
    if not made.n_plots:
        return Report(
            ok=False, findings=made.findings, lines=("Errors stopped the sheets; nothing was written.",)
        )
    lines = [f"{counted(made.n_plots, 'field sheet')}: {made.path}", *letters_line(made.missing_letters)]
    if given.get("workbook"):
        lines.append(
            f"Workbook: {given['workbook']}. Filled in, it takes the place of the tables it holds: move plots, "
            "species and instruments out of the survey folder when you put it there. Change the state of plots seen."
        )
    lines.append("Do not measure where it is not safe: write that the plot was not visited, and why.")
    return Report(ok=True, findings=made.findings, lines=tuple(lines))


def letters_line(missing: str) -> list[str]:
    """Return what to do about letters that no font has; nothing where there are none."""
    if not missing:
        return []
    return [
        f"No font has the letters {missing}: boxes stand for them. Name a font that has them in [paper] font."
    ]


BANDS = Tool(
    "bands",
    "Print class bands at true scale, for a caliper's beam or a girth tape.",
    "Draws the bands of the settings, or else the size classes, as a strip with letter, colour and pattern. With an "
    "instrument the edges stand where it reads them, by zero and gain of its last check; without one nothing is "
    "corrected. A check ruler and a crosshair show whether the printer was true, and colours that are hard to tell "
    "apart are told.",
    (
        _SURVEY,
        Parameter(
            "instrument",
            ParameterKind.TEXT,
            "Instrument of the instruments table whose last check shifts the edges. Default: no correction.",
        ),
        Parameter(
            "kind",
            ParameterKind.CHOICE,
            "What the strip is for, where no instrument is named. Default: caliper; tape if classes are of girths.",
            choices=(CALIPER, TAPE),
        ),
        Parameter(
            "up_to",
            ParameterKind.NUMBER,
            "Diameter in cm that size classes, or a band open above, reach. Default: 80.",
            low=5,
            high=400,
        ),
        _SIZE,
        Parameter("out", ParameterKind.FILE_OUT, "File to write. Default: bands.pdf in the survey folder."),
    ),
    (),
    _bands,
)
DISTANCES = Tool(
    "distances",
    "Print tables of limiting distances, and of radii and sides on slopes.",
    "For angle counts how far a stem may stand, by its diameter and the slope; for circles, rings, rectangles and "
    "strips the lengths on slopes. Tables are made for every design and size that the settings or the plots state, "
    "as a pocket page to fold in three.",
    (
        _SURVEY,
        Parameter(
            "up_to",
            ParameterKind.NUMBER,
            "Largest diameter in cm of the limiting distances. Default: 80.",
            low=5,
            high=400,
        ),
        Parameter(
            "csv", ParameterKind.FILE_OUT, "Also write all distances, to the millimetre, to this CSV file."
        ),
        Parameter(
            "out", ParameterKind.FILE_OUT, "File to write. Default: distances.pdf in the survey folder."
        ),
    ),
    (),
    _distances,
)
SHEETS = Tool(
    "fieldsheets",
    "Print field sheets: a page for each plot, to fill in by hand.",
    "Each sheet says where the plot is, how large on its slope, and what to do at a boundary, and has boxes to tally "
    "in with letter, colour and pattern, lines for stems, and blanks for instrument, crew and state. No stem need "
    "have been measured; plots may all be unvisited.",
    (
        _SURVEY,
        Parameter(
            "plots",
            ParameterKind.TEXTS,
            "Plot to make a sheet for. May be given more than once. Default: all.",
        ),
        Parameter(
            "workbook",
            ParameterKind.FILE_OUT,
            "Also write a workbook (.xlsx) to type the sheets into: plots, species and instruments are filled in, "
            "with lists to choose from. Never overwritten.",
        ),
        Parameter(
            "out", ParameterKind.FILE_OUT, "File to write. Default: fieldsheets.pdf in the survey folder."
        ),
    ),
    FIELD_SHEET_STAGES,
    _sheets,
)
FIELD_PAPERS: tuple[Tool, ...] = (BANDS, DISTANCES, SHEETS)
"""Tools of this module, in the order of the help page."""
