"""Finding the tables of a survey folder: as files, as sheets of a workbook, as layers of a GeoPackage."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import polars as pl

from plotmap.fielddata.heading_row import HEAD_ROWS, Wanted, mostly_known
from plotmap.fielddata.layers import layer_heads, layer_names, read_layer, read_parquet
from plotmap.fielddata.raw import Location, UnreadableFileError, shown_name
from plotmap.fielddata.sheet_head import sheet_head
from plotmap.fielddata.text_files import read_text
from plotmap.fielddata.waypoints import read_waypoints
from plotmap.fielddata.workbooks import read_sheet, sheet_names
from plotmap.model.field_tables import CHECK_TREES, COMPARTMENTS, FIELD_TABLES, PLOTS
from plotmap.model.findings import Findings, finding

SETTINGS_FILE = "survey.toml"
ABOUT_SHEET = "About"
"""Sheet of the workbook laid down by `plotmap new` that explains the others; left alone without a note."""


def _sheet_heads(path: Path, part: str) -> list[list[str]]:
    """Return the rows of a sheet that may be its heading."""
    return sheet_head(path, part, HEAD_ROWS)


_READERS = {
    **dict.fromkeys((".csv", ".tsv", ".txt"), read_text),
    **dict.fromkeys((".parquet", ".geoparquet"), read_parquet),
    **dict.fromkeys((".geojson", ".json", ".shp"), read_layer),
}
_BOOKS = {
    ".xlsx": (sheet_names, read_sheet, _sheet_heads),
    ".gpkg": (layer_names, read_layer, layer_heads),
    ".zip": (layer_names, read_layer, layer_heads),
}
"""For each ending: what lists the parts, what reads one, and what gives the rows that may be its heading."""
_BESIDE = {".dbf", ".shx", ".prj", ".cpg", ".qix", ".sbn", ".sbx", ".qmd", ".qml", ".sld"}
"""Endings of files that belong to a Shapefile, or to the drawing of a layer."""
_WITH_SHAPEFILE = (".dbf", ".shx", ".prj", ".cpg")
_SAVE_AS = {
    **dict.fromkeys((".xls", ".ods", ".xlsm", ".xlsb", ".numbers"), ".xlsx"),
    **dict.fromkeys((".kml", ".kmz", ".gml", ".dxf", ".tab", ".mif", ".gdb"), ".gpkg"),
}
_WAYPOINTS, _GPX = "waypoints", ".gpx"
_LEAST_HEADINGS = 3
_BRING_POLYGONS = (
    "Put the polygons into the survey folder as compartments.gpkg (or .geojson, .shp with its files, .parquet); "
    "a column compartment names them."
)
_TABLES = {table.name: table for table in FIELD_TABLES}
_NAMES = set(_TABLES)


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
        table-twice, table-missing, table-overlooked, file-unreadable, file-unused.
    waypoints : Location or None
        The GPX file that lies beside a table of plots; one without such a table is the table of plots itself.
    """

    locations: dict[str, Location]
    unread: frozenset[str]
    findings: Findings
    waypoints: Location | None = None

    @property
    def files(self) -> list[Path]:
        """Every file the tables are in, and what belongs to a Shapefile."""
        beside_plots = [] if self.waypoints is None else [self.waypoints]
        paths = dict.fromkeys(place.path for place in [*self.locations.values(), *beside_plots])
        beside = [
            path.with_suffix(ending)
            for path in paths
            if path.suffix.lower() == ".shp"
            for ending in _WITH_SHAPEFILE
        ]
        return [*paths, *(path for path in beside if path.exists())]


def look_into(
    folder: Path, own: Mapping[str, Mapping[str, str]] | None = None, drawn: Sequence[Path] = ()
) -> FolderContent:
    """Find the tables of a survey folder without reading them.

    Parameters
    ----------
    folder : Path
        An existing folder; only the files directly in it are looked at.
    own : mapping of str to mapping, optional
        Own headings of each table, from the settings.
    drawn : sequence of Path
        Files that the settings name as layers for the map: used, so that nothing is said of what else is in them;
        one with no table in it is not looked into.

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
    paths = [path for path in sorted(folder.iterdir()) if not path.name.startswith((".", "~$"))]
    paths = [path for path in paths if path not in drawn or path.stem.lower() in _NAMES]
    findings += [_look_at(path, found) for path in paths]
    findings += [_of_unknown_ending(path, set(found)) for path in paths]
    if drawn:
        findings = [_without_notes_on(part, {shown_name(path) for path in drawn}) for part in findings]
    unreadable = _unreadable(findings)
    own = own or {}
    waypoints, odd = _settle_waypoints(found, Wanted(PLOTS, own.get(PLOTS.name, {})))
    findings.append(odd)
    for name, places in found.items():
        if len(places) > 1:
            wanted = Wanted(_TABLES[name], own.get(name, {}))
            findings.append(_drop_templates(places, wanted))
        if len(places) > 1:
            sources = [place.source for place in places]
            findings.append(
                finding("table-twice", sources[0], f"the table {name} is in {' and in '.join(sources)}")
            )
    others = {path: parts for path, parts in _other_parts(folder).items() if path not in drawn}
    findings.append(likely_tables(others))
    findings.append(_missing(set(found) | unreadable | _perhaps_inside(findings), others))
    single = {name: places[0] for name, places in found.items() if len(places) == 1}
    unread = frozenset((set(found) | unreadable) - set(single))
    return FolderContent(single, unread, Findings.join(findings), waypoints)


def _without_notes_on(found: Findings, files: set[str]) -> Findings:
    """Return findings without the notes that something of these files is not used."""
    frame = found.frame
    return Findings(frame.filter(~((pl.col("code") == "file-unused") & pl.col("file").is_in(files))))


def _settle_waypoints(found: dict[str, list[Location]], wanted: Wanted) -> tuple[Location | None, Findings]:
    """Return the one GPX file beside a table of plots; where no such table has rows, count it among the tables."""
    places = found.pop(_WAYPOINTS, [])
    tables = found.get(PLOTS.name, [])
    if not places:
        return None, Findings.none()
    if not any(_has_rows(table, wanted) for table in tables):
        found[PLOTS.name] = [*places, *tables]
        return None, Findings.none()
    if len(places) > 1:
        sources = [place.source for place in places]
        return None, finding("table-twice", sources[0], f"waypoints are in {' and in '.join(sources)}")
    return places[0], Findings.none()


def _look_at(path: Path, found: dict[str, list[Location]]) -> Findings:
    """Add the tables of one file to `found`; return what is odd about it."""
    suffix, name = path.suffix.lower(), path.stem.lower()
    read = _READERS.get(suffix)
    known = read is not None or suffix in _BOOKS or suffix == _GPX
    named = name in _NAMES or (suffix == _GPX and name == _WAYPOINTS)
    if known and named and not path.is_file():
        what = (
            "this is a folder, but must be a file" if path.is_dir() else "this is no file that can be opened"
        )
        return finding("file-unreadable", shown_name(path), what)
    if not known or not path.is_file():
        return Findings.none()
    if suffix in _BOOKS or suffix == _GPX:
        return (_look_at_gpx if suffix == _GPX else _look_into_book)(path, name, found)
    if name not in _NAMES:
        stem = shown_name(path).rpartition(".")[0]
        return _unused(shown_name(path), f"the name {stem} is none of {', '.join(sorted(_NAMES))}")
    if read is not None:
        found[name].append(Location(path, "", read))
    return Findings.none()


def _look_at_gpx(path: Path, name: str, found: dict[str, list[Location]]) -> Findings:
    """Add a GPX file of waypoints to `found`; return the note on one of another name."""
    if name in {PLOTS.name, _WAYPOINTS}:
        found[_WAYPOINTS].append(Location(path, "", read_waypoints))
        return Findings.none()
    return _unused(shown_name(path), f"a GPX file is read only as {PLOTS.name}.gpx or {_WAYPOINTS}.gpx")


def _of_unknown_ending(path: Path, found: set[str]) -> Findings:
    """Tell of a file named like a table in a format that is not read, as plots.xls: an error if the only one."""
    suffix, name = path.suffix.lower(), path.stem.lower()
    if name not in _NAMES or not suffix or suffix in {*_READERS, *_BOOKS, *_BESIDE, _GPX}:
        return Findings.none()
    why = f"the ending {suffix} is none of {', '.join(sorted({*_READERS, *_BOOKS}))}"
    better = _SAVE_AS.get(suffix)
    if better is None:
        return finding("file-unused", shown_name(path), why)
    hint = f"Save it as {better} in the program it came from; a new name alone does not change a file."
    code = "file-unused" if name in found else "file-unreadable"
    return finding(code, shown_name(path), why, hint=hint)


def hint_if_refused(path: Path) -> str | None:
    """Return what to do where the system refuses to open a file; None where it opens it.

    Parameters
    ----------
    path : Path
        A file that could not be read.
    """
    try:
        path.open("rb").close()
    except PermissionError:
        return "Close the file in other programs, and see that you may read it."
    except OSError:
        return None
    return None


def _look_into_book(path: Path, name: str, found: dict[str, list[Location]]) -> Findings:
    """Add the tables of a workbook or GeoPackage: parts of a table's name, or the one part of a file of that name."""
    list_parts, read, _ = _BOOKS[path.suffix.lower()]
    try:
        parts = list_parts(path)
    except UnreadableFileError as error:
        return finding("file-unreadable", shown_name(path), str(error), hint=hint_if_refused(path))
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
    left = [
        part
        for part in parts
        if part not in {*named, ABOUT_SHEET} and not (name in _NAMES and len(parts) == 1)
    ]
    if not left:
        return Findings.none()
    words = "the sheet or layer" if len(left) == 1 else "the sheets or layers"
    return _unused(
        shown_name(path), f"{words} {', '.join(left)} of it {'is' if len(left) == 1 else 'are'} not read"
    )


def _drop_templates(places: list[Location], wanted: Wanted) -> Findings:
    """Leave out places that hold a heading only, where at most one holds rows; return a note on each."""
    filled = [place for place in places if _has_rows(place, wanted)]
    if len(filled) > 1:
        return Findings.none()
    kept = filled[0] if filled else places[0]
    empty = [place for place in places if place is not kept]
    places[:] = [kept]
    return Findings.join(
        finding(
            "file-unused",
            place.source,
            f"it holds a heading and no rows; {kept.source} is read",
            hint="Delete it if it is an empty table of plotmap new that is not to be filled in.",
        )
        for place in empty
    )


def _has_rows(place: Location, wanted: Wanted) -> bool:
    """Say whether a table has any row; one that cannot be read counts as filled, so that it is told."""
    try:
        raw = place.read(place.path, place.part, place.source, wanted)
    except (UnreadableFileError, OSError):
        return True
    return (
        raw.geometry is not None
        or not raw.cells.select(pl.all().is_null().all()).transpose().to_series().all()
    )


def likely_tables(others: Mapping[Path, Sequence[str]]) -> Findings:
    """Return table-overlooked for sheets and layers under other names whose headings fit a table.

    Only their first rows are read, however large they are.

    Parameters
    ----------
    others : mapping of Path to sequence of str
        Sheets and layers that are no table by their name, of each file.
    """
    findings: list[Findings] = []
    for path, parts in others.items():
        _, read, heads = _BOOKS[path.suffix.lower()]
        for part in parts:
            place = Location(path, part, read)
            try:
                rows = heads(path, part)
            except (UnreadableFileError, OSError):
                continue
            table = _fits(rows)
            if table is not None:
                message = f"its headings look like those of {table}, but only a part called {table} is read"
                findings.append(finding("table-overlooked", place.source, message, value=part))
    return Findings.join(findings)


def _fits(rows: Sequence[Sequence[str]]) -> str | None:
    """Return the table that at least three cells of a row, and more than half of them, are columns of."""
    best: tuple[int, str] | None = None
    for table in FIELD_TABLES:
        if table.name == CHECK_TREES.name:
            continue
        for row, n_known in zip(rows, Wanted(table).known(rows), strict=True):
            fits = n_known >= _LEAST_HEADINGS and mostly_known(row, n_known)
            if fits and (best is None or n_known > best[0]):
                best = n_known, table.name
    return best[1] if best else None


def _other_parts(folder: Path) -> dict[Path, list[str]]:
    """Return the sheets and layers that are no table by their name, of each workbook and GeoPackage."""
    others: dict[Path, list[str]] = {}
    for path in sorted(folder.iterdir()):
        suffix = path.suffix.lower()
        if suffix not in _BOOKS or not path.is_file() or path.name.startswith((".", "~$")):
            continue
        try:
            parts = _BOOKS[suffix][0](path)
        except UnreadableFileError:
            continue
        own = path.stem.lower() in _NAMES and len(parts) == 1
        others[path] = [] if own else [part for part in parts if part.lower() not in _NAMES]
    return {path: parts for path, parts in others.items() if parts}


def _unused(file: str, why: str) -> Findings:
    """Return the note that a file is left alone."""
    return finding("file-unused", file, why)


def _unreadable(findings: list[Findings]) -> set[str]:
    """Return the tables whose own file cannot be read."""
    frame = Findings.join(findings).frame
    files = frame.filter(frame["code"] == "file-unreadable")["file"].to_list()
    return {Path(file).stem.lower() for file in files} & _NAMES


def _perhaps_inside(findings: list[Findings]) -> set[str]:
    """Return the tables that may lie in workbooks and GeoPackages that cannot be opened: none of them is missing."""
    frame = Findings.join(findings).frame
    files = [Path(file) for file in frame.filter(frame["code"] == "file-unreadable")["file"]]
    endings = {path.suffix.lower() for path in files if path.stem.lower() not in _NAMES}
    if not endings & set(_BOOKS):
        return set()
    return _NAMES if endings & {".gpkg", ".zip"} else _NAMES - {COMPARTMENTS.name}


def _missing(there: set[str], others: dict[Path, list[str]]) -> Findings:
    """Return table-missing for what a survey cannot do without; a file that cannot be read is not missing."""
    named = {path: [part for part in parts if part != ABOUT_SHEET] for path, parts in others.items()}
    listed = "; ".join(f"{shown_name(path)} has {', '.join(parts)}" for path, parts in named.items() if parts)
    seen = f"; other sheets and layers are not read: {listed}" if listed else ""
    findings = [
        finding("table-missing", name, f"there is no table {name} in the survey folder{seen}", hint=hint)
        for name, hint in ((COMPARTMENTS.name, _BRING_POLYGONS), ("plots", None))
        if name not in there
    ]
    if not {"trees", "tallies"} & there:
        findings.append(
            finding(
                "table-missing", "trees", f"there is neither trees nor tallies in the survey folder{seen}"
            )
        )
    return Findings.join(findings)
