"""Finding the tables of a survey folder: as files, as sheets of a workbook, as layers of a GeoPackage."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

from plotmap.fielddata.layers import layer_names, read_layer, read_parquet
from plotmap.fielddata.raw import Location, UnreadableFileError, shown_name
from plotmap.fielddata.text_files import read_text
from plotmap.fielddata.workbooks import read_sheet, sheet_names
from plotmap.model.field_tables import FIELD_TABLES
from plotmap.model.findings import Findings, finding

SETTINGS_FILE = "survey.toml"
_READERS = {
    **dict.fromkeys((".csv", ".tsv", ".txt"), read_text),
    **dict.fromkeys((".parquet", ".geoparquet"), read_parquet),
    **dict.fromkeys((".geojson", ".json", ".shp"), read_layer),
}
_BOOKS = {
    ".xlsx": (sheet_names, read_sheet),
    ".gpkg": (layer_names, read_layer),
    ".zip": (layer_names, read_layer),
}
_BESIDE = {".dbf", ".shx", ".prj", ".cpg", ".qix", ".sbn", ".sbx", ".qmd", ".qml", ".sld"}
"""Endings of files that belong to a Shapefile, or to the drawing of a layer."""
_WITH_SHAPEFILE = (".dbf", ".shx", ".prj", ".cpg")
_NAMES = {table.name for table in FIELD_TABLES}


@dataclass(frozen=True, slots=True)
class FolderContent:
    """What a survey folder holds.

    Attributes
    ----------
    locations : dict of str to Location
        The one place of each table found.
    unread : frozenset of str
        Tables that are there, but given twice or in a file that cannot be read.
    findings : Findings
        table-twice, table-missing, file-unreadable, file-unused.
    """

    locations: dict[str, Location]
    unread: frozenset[str]
    findings: Findings

    @property
    def files(self) -> list[Path]:
        """Every file the tables are in, and what belongs to a Shapefile."""
        paths = dict.fromkeys(place.path for place in self.locations.values())
        beside = [
            path.with_suffix(ending)
            for path in paths
            if path.suffix.lower() == ".shp"
            for ending in _WITH_SHAPEFILE
        ]
        return [*paths, *(path for path in beside if path.exists())]


def look_into(folder: Path) -> FolderContent:
    """Find the tables of a survey folder without reading them.

    Parameters
    ----------
    folder : Path
        An existing folder; only the files directly in it are looked at.

    Returns
    -------
    FolderContent
        Locations and findings.

    Raises
    ------
    OSError
        The folder may not be read.
    """
    found: dict[str, list[Location]] = defaultdict(list)
    findings: list[Findings] = []
    for path in sorted(folder.iterdir()):
        if path.name.startswith((".", "~$")):
            continue
        findings.append(_look_at(path, found))
    unreadable = _unreadable(findings)
    for name, places in found.items():
        if len(places) > 1:
            sources = [place.source for place in places]
            findings.append(
                finding("table-twice", sources[0], f"the table {name} is in {' and in '.join(sources)}")
            )
    findings.append(_missing(set(found) | unreadable))
    single = {name: places[0] for name, places in found.items() if len(places) == 1}
    unread = frozenset((set(found) | unreadable) - set(single))
    return FolderContent(single, unread, Findings.join(findings))


def _look_at(path: Path, found: dict[str, list[Location]]) -> Findings:
    """Add the tables of one file to `found`; return what is odd about it."""
    suffix, name = path.suffix.lower(), path.stem.lower()
    read = _READERS.get(suffix)
    known = read is not None or suffix in _BOOKS
    if known and name in _NAMES and not path.is_file():
        what = (
            "this is a folder, but must be a file" if path.is_dir() else "this is no file that can be opened"
        )
        return finding("file-unreadable", shown_name(path), what)
    if not known:
        return _of_unknown_ending(path, name, suffix)
    if not path.is_file():
        return Findings.none()
    if suffix in _BOOKS:
        return _look_into_book(path, name, found)
    if name not in _NAMES:
        stem = shown_name(path).rpartition(".")[0]
        return _unused(shown_name(path), f"the name {stem} is none of {', '.join(sorted(_NAMES))}")
    if read is not None:
        found[name].append(Location(path, "", read))
    return Findings.none()


def _of_unknown_ending(path: Path, name: str, suffix: str) -> Findings:
    """Return the note on a file named like a table that plotmap cannot read, as plots.xls."""
    if name not in _NAMES or suffix in _BESIDE or not suffix:
        return Findings.none()
    return _unused(
        shown_name(path), f"the ending {suffix} is none of {', '.join(sorted({*_READERS, *_BOOKS}))}"
    )


def _look_into_book(path: Path, name: str, found: dict[str, list[Location]]) -> Findings:
    """Add the tables of a workbook or GeoPackage: parts of a table's name, or the one part of a file of that name."""
    list_parts, read = _BOOKS[path.suffix.lower()]
    try:
        parts = list_parts(path)
    except UnreadableFileError as error:
        return finding("file-unreadable", shown_name(path), str(error))
    named = [part for part in parts if part.lower() in _NAMES]
    if name in _NAMES and name not in {part.lower() for part in named}:
        if len(parts) == 1:
            found[name].append(Location(path, parts[0], read))
        else:
            listed = ", ".join(parts) or "none"
            return finding(
                "file-unreadable", shown_name(path), f"it has no sheet or layer {name}; it has: {listed}"
            )
    for part in named:
        found[part.lower()].append(Location(path, part, read))
    if not named and name not in _NAMES:
        return _unused(
            shown_name(path), f"none of its sheets or layers ({', '.join(parts)}) is a table of plotmap"
        )
    return Findings.none()


def _unused(file: str, why: str) -> Findings:
    """Return the note that a file is left alone."""
    return finding("file-unused", file, why)


def _unreadable(findings: list[Findings]) -> set[str]:
    """Return the tables whose own file cannot be read."""
    frame = Findings.join(findings).frame
    files = frame.filter(frame["code"] == "file-unreadable")["file"].to_list()
    return {Path(file).stem.lower() for file in files} & _NAMES


def _missing(there: set[str]) -> Findings:
    """Return table-missing for what a survey cannot do without; a file that cannot be read is not missing."""
    findings = [
        finding("table-missing", name, f"there is no table {name} in the survey folder")
        for name in ("compartments", "plots")
        if name not in there
    ]
    if not {"trees", "tallies"} & there:
        findings.append(
            finding("table-missing", "trees", "there is neither trees nor tallies in the survey folder")
        )
    return Findings.join(findings)
