"""Files that PDFs are written to: what they must not replace."""

from __future__ import annotations

from pathlib import Path

from plotmap.errors import OutputError

_PDF_HEAD = b"%PDF-"
_OURS = b"(plotmap "


def check_pdf_file(path: Path, what: str) -> None:
    """Refuse a file that a PDF must not replace.

    Parameters
    ----------
    path : Path
        File to write.
    what : str
        What it will hold, in one word: ``sheet``.

    Raises
    ------
    OutputError
        `path` is a folder, does not end in ``.pdf``, its folder is not there, or it is there and is no PDF of
        plotmap.
    """
    if path.is_dir():
        raise OutputError(f"{path}: this is a folder, but a {what} is a file. Name a file, as {what}.pdf.")
    if path.suffix.lower() != ".pdf":
        raise OutputError(
            f"{path}: {what}s are written as PDF, so the name must end in .pdf. Name a file, as {what}.pdf."
        )
    if not path.parent.is_dir():
        raise OutputError(f"{path}: its folder is not there. Make the folder, or name another place.")
    if path.exists():
        content = path.read_bytes()
        if content and not (content.startswith(_PDF_HEAD) and _OURS in content):
            raise OutputError(
                f"{path}: this file is there and plotmap did not write it, so it is not replaced. Name another file, "
                "or move it away."
            )
