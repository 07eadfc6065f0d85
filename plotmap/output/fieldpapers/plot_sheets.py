"""Field sheets: one page a plot, to be filled in by hand."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from plotmap.model.field_papers import MarkedBand
from plotmap.model.labels import Labels, labels_of
from plotmap.model.settings import Settings
from plotmap.output.fieldpapers.plot_blanks import BLANKS_MM, draw_blanks
from plotmap.output.fieldpapers.plot_facts import Facts, draw_facts
from plotmap.output.paper.document import FOOTER_MM, Document
from plotmap.output.paper.of_survey import page_furniture, survey_document
from plotmap.output.paper.sizes import paper
from plotmap.output.paper.target import check_pdf_file

_MARGIN_MM = 10.0
_FORM = "blanks"


@dataclass(frozen=True, slots=True)
class FieldSheets:
    """What field sheets show.

    Attributes
    ----------
    rows : pandas.DataFrame
        As `plotmap.plots.sheet_rows.sheet_rows` gives them.
    marks : tuple of MarkedBand
        Boxes to tally in.
    species : tuple of str
        Species that have a row of boxes.
    crs : str
        CRS of the survey; empty where not known.
    names : dict of str to str
        Names of the compartments that have one.
    """

    rows: pd.DataFrame
    marks: tuple[MarkedBand, ...]
    species: tuple[str, ...]
    crs: str
    names: dict[str, str]


def write_field_sheets(
    sheets: FieldSheets, path: Path | str, settings: Settings, folder: Path | None = None
) -> tuple[int, str]:
    """Write a page for each plot, A4 upright: where it is and how large, and blanks for all that is measured.

    What is the same on all pages is kept once in the file; finished pages are kept packed. The same sheets give the
    same bytes.

    Parameters
    ----------
    sheets : FieldSheets
        Plots, boxes and species.
    path : Path or str
        File to write; a PDF of plotmap is replaced.
    settings : Settings
        Design, edge rule, title, language, own labels, author and font.
    folder : Path, optional
        Survey folder, which ``[paper] font`` starts from.

    Returns
    -------
    n_pages : int
        Pages, one a plot.
    missing : str
        Letters that no font had.

    Raises
    ------
    SettingsError
        The font cannot be used.
    OutputError
        The file must not be replaced, or cannot be written.
    """
    path = Path(path)
    check_pdf_file(path, "sheet")
    labels = labels_of(settings)
    document = _document(settings, labels, folder)
    body = paper("A4").box.inset(_MARGIN_MM).split_bottom(FOOTER_MM)[1]
    blanks, top = body.split_bottom(BLANKS_MM)
    facts = Facts.of(settings, labels, sheets.crs, sheets.names)
    for row in sheets.rows.itertuples(index=False):
        with document.page() as pen:
            draw_facts(pen, top, facts, row)
            pen.show(_FORM)
    with document.pen.form(_FORM, paper("A4").box):
        draw_blanks(
            document.pen, blanks, labels, sheets.marks, sheets.species, of_settings=bool(settings.bands)
        )
    document.save(path)
    return document.n_pages, document.missing_letters


def _document(settings: Settings, labels: Labels, folder: Path | None) -> Document:
    """Return the document, still without pages."""
    furniture = page_furniture(labels, labels("field_sheet.caution"), _MARGIN_MM)
    titles = labels("field_sheet.document"), settings.survey.title.strip()
    return survey_document(settings, folder, paper("A4"), titles, furniture)
