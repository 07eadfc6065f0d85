"""Every tool of plotmap, declared once. Heavy imports happen when a tool is run."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from plotmap.model.finding_rules import Severity
from plotmap.model.on_request import ALSO
from plotmap.model.paper import (
    LARGEST_SCALE,
    ORIENTATIONS,
    SHEET_THEMES,
    SIZES_MM,
    SMALLEST_SCALE,
    SheetWish,
)
from plotmap.model.sharing import Audience
from plotmap.model.stages import COMPARE_STAGES, SHARE_STAGES, SHEET_STAGES, STAGES
from plotmap.tools.declaration import Parameter, ParameterKind, Progress, Report, Tool
from plotmap.tools.field_papers import FIELD_PAPERS
from plotmap.tools.findings_text import counted
from plotmap.tools.layout_tool import LAYOUT
from plotmap.tools.result_places import refuse_file_name
from plotmap.tools.share import run_share

_SURVEY = Parameter(
    "survey",
    ParameterKind.FOLDER_IN,
    "Survey folder: it holds survey.toml, compartments, plots, and trees or tallies.",
    required=True,
)
_FILL_WORKBOOK = "Fill in its sheets; the sheet About explains every column."
_FILL_CSV = (
    "Fill in the CSV files; those you do not need may stay empty or be deleted. A table that you bring in another "
    "file (a sheet of a workbook, a layer) takes the place of its CSV file: delete that one."
)
_ADD_COMPARTMENTS = (
    "Add the compartment layer as compartments.gpkg (or GeoJSON, Shapefile, GeoParquet): polygons with a column "
    "compartment."
)
_CAUTION = (
    "The figures are estimates from sample plots. Felling, steep ground and marking paints are dangerous: "
    "follow local codes and leave the decision and the work to licensed, competent people."
)


def _run(given: Mapping[str, Any], progress: Progress) -> Report:
    """Do the whole main job."""
    from plotmap.workflow import run  # noqa: PLC0415

    refuse_file_name(given.get("out"))
    also = tuple(given.get("also") or ())
    result = run(given["survey"], given.get("out"), progress, also=also)
    if result.stand is None:
        return Report(
            ok=False,
            findings=result.findings,
            lines=(
                "Errors stopped the run; nothing was computed and no earlier result was changed.",
                f"All findings: {result.findings_file}",
            ),
            findings_written=True,
        )
    return Report(
        ok=True,
        findings=result.findings,
        lines=(*_summary(result.stand), *_written(result.folder, also), _CAUTION),
        findings_written=True,
    )


def _check(given: Mapping[str, Any], progress: Progress) -> Report:
    """Read and check only."""
    from plotmap.fielddata import read_survey  # noqa: PLC0415
    from plotmap.workflow import check  # noqa: PLC0415

    target = Path(given["findings"]) if given.get("findings") else None
    if target is not None:
        from plotmap.output import check_findings_file, save_findings  # noqa: PLC0415

        check_findings_file(target)
    progress(STAGES[0])
    survey = read_survey(given["survey"])
    progress(STAGES[1])
    findings = check(survey)
    lines = []
    if target is not None:
        lines.append(f"All findings: {save_findings(findings, target)}")
    n_errors = findings.of(Severity.ERROR).height
    if n_errors:
        lines.append(f"A run would stop: {counted(n_errors, 'error')}.")
    else:
        lines.append("No errors: the survey can be run.")
    return Report(ok=not n_errors, findings=findings, lines=tuple(lines), findings_written=target is not None)


def _new(given: Mapping[str, Any], _progress: Progress) -> Report:
    """Lay down an empty survey."""
    from plotmap.fielddata.blank_survey import lay_down  # noqa: PLC0415

    files = lay_down(Path(given["folder"]), workbook=bool(given.get("workbook")))
    lines = [f"Laid down {given['folder']}:", *(f"  {path.name}" for path in files)]
    lines.append(_FILL_WORKBOOK if given.get("workbook") else _FILL_CSV)
    lines.append(_ADD_COMPARTMENTS)
    lines.append(f"Then: plotmap check {given['folder']}")
    return Report(ok=True, findings=None, lines=tuple(lines))


def _summary(stand: Any) -> list[str]:
    """Return the survey total in sentences."""
    total = stand.survey_total.iloc[0]
    confidence = f"{100 * stand.settings.survey.confidence:g} %"
    lines = [
        _basis(total),
        _figure("  basal area", total, "basal_area_m2_per_ha", "m²/ha", confidence, 1),
        _figure("  stems     ", total, "stems_per_ha", "per ha", confidence, 0),
    ]
    if total["n_without_plots"]:
        without = counted(total["n_without_plots"], "compartment")
        lines.append(f"  covered by the other plots of their strata: {without} without plots")
    if total["n_left_out"]:
        left = counted(total["n_left_out"], "compartment")
        lines.append(f"  left out: {left} without plots, {total['area_left_out_ha']:,.1f} ha")
    if total["status"] == "partly":
        alone = counted(total["n_one_plot"], "compartment")
        if stand.settings.estimates.sample_of != "compartment":
            alone = f"{total['n_one_plot']} of the strata, each"
        lines.append(
            f"  no error can be given: {alone} with one plot. [estimates] one_plot_variance = 'pooled' would "
            "take their variance from the others."
        )
    return lines


def _basis(total: Any) -> str:
    """Return what the total rests on."""
    return (
        f"{counted(total['n_compartments'], 'compartment')} with {counted(total['n_plots'], 'plot')} on "
        f"{total['area_ha']:,.1f} ha ({total['area_source']} area):"
    )


def _figure(label: str, total: Any, name: str, unit: str, confidence: str, digits: int) -> str:
    """Return one figure with its limits."""
    low, high = total[f"{name}_low"], total[f"{name}_high"]
    limits = "" if low != low else f" ({confidence} limits {low:,.{digits}f} to {high:,.{digits}f})"  # noqa: PLR0124
    return f"{label} {total[name]:,.{digits}f} {unit}{limits}"


def _written(folder: Path, also: tuple[str, ...]) -> list[str]:
    """Return what was written."""
    return [
        f"Results in {folder}:",
        "  map.html      open it in any browser, no network needed",
        "  report.pdf    what was found, to print; report.html is the same for the screen",
        "  stand.gpkg    layers for a GIS",
        "  tables.xlsx   the tables for people; tables/ has them as CSV",
        "  findings.csv  what was odd; ledger.csv says what became of every row",
        *(f"  {word + '/':<13} the same as *{ALSO[word]}" for word in ALSO if word in also),
    ]


def _compare(given: Mapping[str, Any], progress: Progress) -> Report:
    """Compare two surveys."""
    from plotmap.workflow import compare  # noqa: PLC0415

    refuse_file_name(given.get("out"))
    change, folder = compare(given["old"], given["new"], given.get("out"), progress)
    return Report(
        ok=True,
        findings=change.findings,
        lines=(*_change_summary(change), *_change_written(folder)),
        findings_written=True,
    )


def _change_summary(change: Any) -> list[str]:
    """Return the change of the whole survey in sentences."""
    total = change.total_change.row(0, named=True)
    confidence = f"{100 * change.settings.survey.confidence:g} %"
    years = f", {total['years']:.1f} years apart" if total["years"] is not None else ""
    lines = [
        (
            f"{counted(total['n_compartments'], 'compartment')} on {total['area_ha']:,.1f} ha, "
            f"{counted(total['n_paired'], 'plot')} visited twice{years}:"
        ),
        _change_line("  basal area", total, "basal_area_m2_per_ha", "m²/ha", confidence, 1),
        _change_line("  stems     ", total, "stems_per_ha", "per ha", confidence, 0),
    ]
    if total["n_left_out"]:
        left = counted(total["n_left_out"], "compartment")
        lines.append(
            f"  left out: {left}, {total['area_left_out_ha']:,.1f} ha (status in compartment_change says why)"
        )
    differs = change.comparison.filter(change.comparison["verdict"] == "differs")["item"].to_list()
    if differs:
        lines.append(f"  the surveys differ in {', '.join(differs)}: part of the change may come from that")
    return lines


def _change_line(
    label: str, total: Mapping[str, Any], name: str, unit: str, confidence: str, digits: int
) -> str:
    """Return one change with both figures and its limits."""
    if total[f"{name}_change"] is None:
        return f"{label} no change can be given"
    figures = f"from {total[f'{name}_old']:,.{digits}f} to {total[f'{name}_new']:,.{digits}f} {unit}"
    low, high = total[f"{name}_change_low"], total[f"{name}_change_high"]
    limits = (
        " (no error can be given: a compartment has one plot)"
        if low is None
        else f" ({confidence} limits {low:+,.{digits}f} to {high:+,.{digits}f})"
    )
    return f"{label} {total[f'{name}_change']:+,.{digits}f} {unit}{limits}, {figures}"


def _change_written(folder: Path) -> list[str]:
    """Return what a comparison wrote."""
    return [
        f"Results in {folder}:",
        "  change.gpkg   layers for a GIS",
        "  change.xlsx   the tables for people; tables/ has them as CSV",
        "  findings.csv  what was odd about plots, boundaries and stems",
    ]


def _sheet(given: Mapping[str, Any], progress: Progress) -> Report:
    """Draw a map sheet."""
    from plotmap.workflow import sheet  # noqa: PLC0415

    plain = SheetWish()
    wish = SheetWish(
        size=given.get("size") or plain.size,
        scale_denominator=given.get("scale"),
        theme=given.get("theme") or plain.theme,
        orientation=given.get("orientation"),
        printed_on=(given.get("printed_on") or "").strip(),
    )
    findings, written, path = sheet(given["survey"], wish, given.get("out"), progress)
    if written is None:
        return Report(ok=False, findings=findings, lines=("Errors stopped the sheet; nothing was written.",))
    held = "portrait" if written.paper.height_mm > written.paper.width_mm else "landscape"
    lines = [
        (
            f"{counted(written.n_sheets, 'sheet')} {written.paper.name} {held} at 1 : "
            f"{written.scale_denominator:,.0f}: {path}"
        ),
        "Print at 100 %, without fitting to the page; the scale bar shows whether the printer did.",
    ]
    if written.missing_letters:
        lines.append(
            f"No font has the letters {written.missing_letters}: boxes stand for them. Name a font that has them in "
            "[paper] font."
        )
    return Report(ok=True, findings=None, lines=(*lines, _CAUTION))


RUN = Tool(
    "run",
    "Read a survey, compute it and write map, GeoPackage and tables.",
    "Reads the survey folder, checks everything, and writes all results into one folder, or nothing: where "
    "the data have errors all of them are listed, and earlier results stay as they were.",
    (
        _SURVEY,
        Parameter("out", ParameterKind.FOLDER_OUT, "Result folder. Default: results in the survey folder."),
        Parameter(
            "also",
            ParameterKind.CHOICES,
            "Also write geoparquet (every table, in the CRS of the survey) or geojson (layers, in longitude and "
            "latitude), into a folder of that name in the results. May be given more than once.",
            choices=tuple(ALSO),
        ),
    ),
    STAGES,
    _run,
)
CHECK = Tool(
    "check",
    "Read and check a survey; write nothing.",
    "Lists everything that is wrong or odd, in one pass, with the place and what to do.",
    (_SURVEY, Parameter("findings", ParameterKind.FILE_OUT, "Also write all findings to this CSV file.")),
    STAGES[:2],
    _check,
)
NEW = Tool(
    "new",
    "Lay down an empty survey folder with commented files.",
    "Writes survey.toml with every setting explained, and the tables with their headings: as CSV files, or as "
    "the sheets of one workbook. Files that are already there are never overwritten.",
    (
        Parameter(
            "folder",
            ParameterKind.FOLDER_OUT,
            "Folder to lay down; made where it is not there.",
            required=True,
        ),
        Parameter(
            "workbook",
            ParameterKind.SWITCH,
            "One workbook, survey.xlsx, in place of the CSV files: a sheet for each table, with lists to choose "
            "from, ranges checked while typing, and every column explained.",
        ),
    ),
    (),
    _new,
)
COMPARE = Tool(
    "compare",
    "Compare two surveys of one forest: change, growth, ingrowth, mortality.",
    "Computes both surveys with settings that fit each other, pairs plots by name and place, and gives the change of "
    "compartments, strata and the survey with its error; where stems are numbered, what became of each of them. Both "
    "surveys must be without errors.",
    (
        Parameter("old", ParameterKind.FOLDER_IN, "Folder of the earlier survey.", required=True),
        Parameter("new", ParameterKind.FOLDER_IN, "Folder of the later survey.", required=True),
        Parameter(
            "out", ParameterKind.FOLDER_OUT, "Result folder. Default: change in the folder of the new survey."
        ),
    ),
    COMPARE_STAGES,
    _compare,
)
SHEET = Tool(
    "sheet",
    "Draw a map sheet of a survey, true to scale, as a PDF.",
    "Computes the survey and draws compartments, plots and names on paper, with legend, scale bar, norths, "
    "coordinates and cautions. The scale is that of lengths on the grid. Where the survey does not fit one sheet at "
    "the scale asked for, several are drawn that overlap, each with an index. Print at 100 %, without fitting to the "
    "page.",
    (
        _SURVEY,
        Parameter(
            "size",
            ParameterKind.CHOICE,
            "Size of the paper. Default: A4.",
            choices=tuple(SIZES_MM),
        ),
        Parameter(
            "scale",
            ParameterKind.NUMBER,
            "Denominator of the scale: 10000 for 1 : 10 000. Default: the largest round scale that fits one sheet.",
            low=LARGEST_SCALE,
            high=SMALLEST_SCALE,
        ),
        Parameter(
            "theme",
            ParameterKind.CHOICE,
            "What compartments are coloured by. Default: basal_area.",
            choices=tuple(SHEET_THEMES),
        ),
        Parameter(
            "orientation",
            ParameterKind.CHOICE,
            "How the paper is held. Default: that which shows the survey larger.",
            choices=ORIENTATIONS,
        ),
        Parameter(
            "printed_on",
            ParameterKind.TEXT,
            "Date of printing, printed as you write it. Default: none, so that the same survey gives the same file.",
        ),
        Parameter("out", ParameterKind.FILE_OUT, "File to write. Default: sheet.pdf in the survey folder."),
    ),
    SHEET_STAGES,
    _sheet,
)
SHARE = Tool(
    "share",
    "Write what managers or the public may see of a survey, tested for leaks.",
    "Computes the survey and writes the same files as run, without what must be kept back: sensitive species of the "
    "species table are reported together with others, plots lie at places drawn by chance in their compartments "
    "(managers) or are left out (public), and stems, crews and rows of the field files are not shown. Every file is "
    "then opened and searched for true positions, identifiers of plots, crews and sensitive species: where one is "
    "found nothing is written, and the exit code is 3. docs/sharing.md says who is given what, and what is left.",
    (
        _SURVEY,
        Parameter(
            "for",
            ParameterKind.CHOICE,
            "Who the results are for. Must be given.",
            choices=tuple(Audience),
        ),
        Parameter(
            "out",
            ParameterKind.FOLDER_OUT,
            "Result folder. Default: shared_managers or shared_public in the survey folder.",
        ),
    ),
    SHARE_STAGES,
    run_share,
)
TOOLS: tuple[Tool, ...] = (RUN, CHECK, NEW, COMPARE, SHEET, SHARE, LAYOUT, *FIELD_PAPERS)
"""All tools, in the order of the help page."""
