"""What all printed pages of a survey have in common: its font, author, language and the number of the page."""

from __future__ import annotations

from pathlib import Path

from plotmap.model.labels import Labels, labels_of
from plotmap.model.settings import Settings
from plotmap.output.paper.document import About, Document, Furniture
from plotmap.output.paper.fonts import fonts_for
from plotmap.output.paper.sizes import Paper


def page_furniture(labels: Labels, foot: str, margin_mm: float) -> Furniture:
    """Return furniture without a head.

    Parameters
    ----------
    labels : Labels
        Words of the survey.
    foot : str
        At the foot on the left.
    margin_mm : float
        Free on each side.
    """
    return Furniture("", "", foot, lambda number, of: labels("sheet.page_of", n=number, all=of), margin_mm)


def survey_document(
    settings: Settings, folder: Path | None, sheet: Paper, titles: tuple[str, str], furniture: Furniture
) -> Document:
    """Return a document of a survey, still without pages.

    Parameters
    ----------
    settings : Settings
        Author, font and language.
    folder : Path, optional
        Survey folder, which ``[paper] font`` starts from.
    sheet : Paper
        Size of the pages.
    titles : tuple of str
        Title and subject of the file.
    furniture : Furniture
        What stands on every page.

    Raises
    ------
    SettingsError
        The font of the settings is none.
    OutputError
        A packaged font is missing or not the one that was packaged.
    """
    title, subject = titles
    about = About(title, settings.paper.author.strip(), subject, labels_of(settings).language)
    return Document(sheet, fonts_for(settings.paper.font, folder), about, furniture)
