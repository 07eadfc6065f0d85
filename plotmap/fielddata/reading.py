"""Reading a whole survey folder."""

from __future__ import annotations

import hashlib
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import polars as pl
from numpy.typing import NDArray
from pyproj import CRS

from plotmap.errors import SettingsError
from plotmap.fielddata.compartments import as_invalid, read_compartments, settle_crs
from plotmap.fielddata.convert import TypedTable, convert, empty_frame
from plotmap.fielddata.discovery import SETTINGS_FILE, FolderContent, hint_if_refused, look_into
from plotmap.fielddata.heading_row import Wanted
from plotmap.fielddata.headings import match_headings, no_position, without_heading
from plotmap.fielddata.map_layers import check_map_species, map_layer_files, read_map_layers
from plotmap.fielddata.other_digits import identifiers_in_other_digits
from plotmap.fielddata.positions import read_plots
from plotmap.fielddata.prescriptions import check_prescriptions
from plotmap.fielddata.raw import Location, RawTable, UnreadableFileError, shown_name
from plotmap.fielddata.relations import check_relations
from plotmap.fielddata.settings_file import read_settings
from plotmap.fielddata.waypoints import Waypoints
from plotmap.model.columns import Table
from plotmap.model.field_tables import COMPARTMENTS, FIELD_TABLES, MEASURED, PLOTS
from plotmap.model.field_tables_thinning import PRESCRIPTIONS
from plotmap.model.findings import Findings, finding
from plotmap.model.settings import Settings
from plotmap.model.survey import InputFile, Survey

_BLOCK_BYTES = 1 << 20


@dataclass(slots=True)
class _Reading:
    """What has been read so far."""

    typed: dict[str, TypedTable] = field(default_factory=dict)
    raw: dict[str, RawTable] = field(default_factory=dict)
    sources: dict[str, str] = field(default_factory=dict)
    unread: set[str] = field(default_factory=set)
    names: dict[str, set[str]] = field(default_factory=dict)
    findings: list[Findings] = field(default_factory=list)
    waypoints: Waypoints | None = None


def read_survey(folder: Path | str) -> Survey:
    """Read a survey folder and check everything that can be checked without computing.

    Parameters
    ----------
    folder : Path or str
        Folder with ``survey.toml`` and the tables (docs/field_files.md).

    Returns
    -------
    Survey
        Typed tables and all findings. A table that cannot be read is empty, and a finding says why.

    Raises
    ------
    SettingsError
        The folder does not exist, is a file, or ``survey.toml`` is missing or has faults.
    """
    folder = Path(folder)
    settings, content, extra = _look_at(folder)
    reading = _Reading(unread=set(content.unread), findings=[content.findings])
    for table in FIELD_TABLES:
        location = content.locations.get(table.name)
        if location is not None:
            _read_table(table, location, settings, reading)
    if content.waypoints is not None:
        _read_beside(content.waypoints, reading)
    files = dict.fromkeys(
        [folder / SETTINGS_FILE, *content.files, *(path for path in extra if path.is_file())]
    )
    inputs = tuple(input_file(path) for path in files)
    return _assemble(folder, settings, reading, inputs)


def read_compartments_only(
    folder: Path,
) -> tuple[Settings, gpd.GeoDataFrame, CRS | None, Findings, list[Path]]:
    """Read settings and compartments of a survey folder, whether or not other tables are there.

    Parameters
    ----------
    folder : Path
        Survey folder.

    Returns
    -------
    settings : Settings
        Its ``survey.toml``.
    compartments : geopandas.GeoDataFrame
        As `plotmap.model.survey.Survey.compartments`.
    crs : pyproj.CRS or None
        CRS of the survey; None where it could not be settled.
    findings : Findings
        Of the compartments.
    files : list of Path
        Files that were read.

    Raises
    ------
    SettingsError
        As `read_survey`.
    """
    settings, content, _ = _look_at(folder)
    reading = _Reading(unread=set(content.unread), findings=[_of_compartments(content)])
    location = content.locations.get(COMPARTMENTS.name)
    if location is not None:
        _read_table(COMPARTMENTS, location, settings, reading)
    compartments, crs = _compartments(settings, reading)
    own = [] if location is None else [path for path in content.files if path.stem == location.path.stem]
    return settings, compartments, crs, Findings.join(reading.findings), [folder / SETTINGS_FILE, *own]


def _look_at(folder: Path) -> tuple[Settings, FolderContent, list[Path]]:
    """Return the settings of a folder, the tables found in it, and the other layers that the settings name."""
    if not folder.exists():
        raise SettingsError(f"{folder}: there is no such folder. Give the folder that holds survey.toml.")
    if not folder.is_dir():
        raise SettingsError(
            f"{folder}: this is a file, but must be a folder. Give the folder it lies in, {folder.resolve().parent}."
        )
    settings = read_settings(folder / SETTINGS_FILE)
    try:
        extra = map_layer_files(folder, settings.map.layers)
        excluded = [folder / name for name in settings.layout.exclude]
        content = look_into(folder, settings.columns, [*extra, *excluded])
    except OSError as error:
        raise SettingsError(
            f"{folder}: the folder cannot be read: {error.strerror or error}. Give a folder you may read."
        ) from error
    return settings, content, extra


def _of_compartments(content: FolderContent) -> Findings:
    """Return the findings on the files of the compartments; where there are none, on any that could hold them."""
    frame = content.findings.frame
    location = content.locations.get(COMPARTMENTS.name)
    if location is None:
        others = (pl.col("code") == "table-missing") & (pl.col("file") != COMPARTMENTS.name)
        return Findings(frame.filter(~others))
    return Findings(frame.filter(pl.col("file").str.starts_with(shown_name(location.path))))


def _read_table(table: Table, location: Location, settings: Settings, reading: _Reading) -> None:
    """Read one table into `reading`."""
    source = location.source
    try:
        raw = _read_cells(Wanted(table, settings.columns.get(table.name, {})), location)
    except (UnreadableFileError, OSError) as error:
        said = error.strerror if isinstance(error, OSError) else None
        hint = hint_if_refused(location.path)
        reading.findings.append(finding("file-unreadable", source, said or str(error), hint=hint))
        reading.unread.add(table.name)
        return
    headings, found = match_headings(table, raw.headings, settings.columns.get(table.name, {}), source)
    typed = convert(table, raw, headings, source)
    reading.findings += [found, without_heading(raw.headings, raw.cells, source), typed.findings]
    if any(column.required and column.name not in {h.name for h in headings} for column in table.columns):
        reading.unread.add(table.name)
    if not typed.frame.height and table in (COMPARTMENTS, PLOTS):
        reading.findings.append(_nothing_inside(table, source))
    reading.typed[table.name] = typed
    reading.names[table.name] = {heading.name for heading in headings}
    reading.raw[table.name] = raw
    reading.sources[table.name] = source


def _read_beside(location: Location, reading: _Reading) -> None:
    """Read the GPX file beside the table of plots into `reading`."""
    try:
        raw = location.read(location.path, location.part, location.source, None)
    except (UnreadableFileError, OSError) as error:
        said = error.strerror if isinstance(error, OSError) else None
        hint = hint_if_refused(location.path)
        reading.findings.append(finding("file-unreadable", location.source, said or str(error), hint=hint))
        return
    reading.findings.append(raw.findings)
    reading.waypoints = Waypoints(raw, location.source)


def _nothing_inside(table: Table, source: str) -> Findings:
    """Return no-rows for compartments or plots."""
    if table is COMPARTMENTS:
        hint = "Save the compartments again with their polygons; perhaps nothing was chosen when they were saved."
        return finding("no-rows", source, "there is no polygon in it", hint=hint)
    return finding("no-rows", source, "there is no row below the heading")


def _read_cells(wanted: Wanted, location: Location) -> RawTable:
    """Read the cells of a table; compartments only with geometry, whose broken outlines are invalid polygons."""
    raw = location.read(location.path, location.part, location.source, wanted)
    if wanted.table is not COMPARTMENTS:
        return raw
    if raw.geometry is None:
        raise UnreadableFileError(
            "compartments need polygons, but it has none: bring them as .gpkg, .geojson, .shp or .parquet"
        )
    return replace(raw, findings=as_invalid(raw.findings))


def _assemble(folder: Path, settings: Settings, reading: _Reading, inputs: tuple[InputFile, ...]) -> Survey:
    """Locate the plots, check across tables, and return the survey."""
    compartments, crs = _compartments(settings, reading)
    typed = reading.typed.get(PLOTS.name) or _nothing(PLOTS)
    plots, found = read_plots(
        typed,
        reading.raw.get(PLOTS.name),
        crs,
        compartments,
        settings.plots,
        reading.sources.get("plots", "plots"),
        reading.waypoints,
    )
    reading.findings.append(found)
    raw_plots = reading.raw.get(PLOTS.name)
    columns_only = raw_plots is not None and raw_plots.geometry is None and reading.waypoints is None
    if "plot-without-position" in found.codes and columns_only:
        reading.findings.append(no_position(reading.names[PLOTS.name], reading.sources[PLOTS.name]))
    frames = {
        table.name: reading.typed[table.name].frame if table.name in reading.typed else empty_frame(table)
        for table in FIELD_TABLES
    }
    reading.findings.append(identifiers_in_other_digits(frames, reading.sources))
    states = pl.DataFrame(
        {"plot": typed.frame["plot"], "source_row": typed.frame["source_row"]}
    ).with_columns(pl.Series("state", plots["state"].tolist(), dtype=pl.String))
    if states["plot"].is_not_null().any():
        no_stems = _no_stems(states, frames, reading)
        reading.findings.append(no_stems)
        reading.findings.append(
            check_relations(
                states,
                frames["trees"],
                frames["tallies"],
                frames["species"],
                settings,
                reading.sources,
                stems_known=not {"trees", "tallies"} & reading.unread and not len(no_stems),
            )
        )
    reading.findings.append(
        check_map_species(settings.map.species, [frames[name] for name in ("trees", "tallies", "species")])
    )
    if PRESCRIPTIONS.name in reading.sources and COMPARTMENTS.name not in reading.unread:
        reading.findings.append(
            check_prescriptions(
                frames[PRESCRIPTIONS.name],
                compartments["compartment"].tolist(),
                compartments["stratum"].tolist(),
                [frames[name] for name in ("trees", "tallies", "species")],
                settings,
                reading.sources[PRESCRIPTIONS.name],
            )
        )
    map_layers, found = read_map_layers(folder, settings.map.layers, compartments)
    reading.findings.append(found)
    return Survey(
        folder=folder,
        settings=settings,
        crs=crs_name(crs),
        compartments=compartments,
        plots=plots,
        trees=frames["trees"],
        tallies=frames["tallies"],
        instruments=frames["instruments"],
        species=frames["species"],
        check_trees=frames["check_trees"],
        prescriptions=frames[PRESCRIPTIONS.name],
        sources=dict(reading.sources),
        rows_read={name: typed.n_read for name, typed in reading.typed.items()},
        rows_blank={name: typed.n_blank for name, typed in reading.typed.items()},
        rows_no_data={name: typed.set_aside for name, typed in reading.typed.items()},
        inputs=inputs,
        findings=Findings.join(reading.findings),
        map_layers=map_layers,
    )


def _no_stems(states: pl.DataFrame, frames: dict[str, pl.DataFrame], reading: _Reading) -> Findings:
    """Return no-rows where plots were measured, but no stem is in any file."""
    sources = [reading.sources[name] for name in ("trees", "tallies") if name in reading.sources]
    unread = {"trees", "tallies"} & reading.unread
    if unread or not sources or any(frames[name].height for name in ("trees", "tallies")):
        return Findings.none()
    n_measured = states.filter(pl.col("state") == MEASURED).height
    if not n_measured:
        return Findings.none()
    words = "1 plot is" if n_measured == 1 else f"{n_measured} plots are"
    message = f"there is no row below the heading, but {words} marked measured"
    return finding("no-rows", sources[0], message)


def _compartments(settings: Settings, reading: _Reading) -> tuple[gpd.GeoDataFrame, CRS | None]:
    """Return the compartments, empty where there are none, and the CRS of the survey."""
    typed, raw = reading.typed.get(COMPARTMENTS.name), reading.raw.get(COMPARTMENTS.name)
    if typed is None or raw is None:
        crs = None
        if settings.survey.crs is not None:
            crs, found = settle_crs(settings.survey.crs, settings.survey.crs, _no_shapes(), "survey.toml")
            reading.findings.append(found)
        frame = gpd.GeoDataFrame(empty_frame(COMPARTMENTS).to_pandas(), geometry=_no_shapes(), crs=crs)
        frame["area_geodesic_ha"] = []
        return frame, crs
    source = reading.sources[COMPARTMENTS.name]
    frame, crs, found = read_compartments(typed, raw, settings.survey.crs, source)
    reading.findings.append(found)
    return frame, crs


def _no_shapes() -> NDArray[np.object_]:
    """Return no geometry."""
    return np.empty(0, dtype=object)


def _nothing(table: Table) -> TypedTable:
    """Return a table without rows."""
    return TypedTable(empty_frame(table), 0, 0, {}, pl.Series("_place", [], dtype=pl.UInt32), Findings.none())


def crs_name(crs: CRS | None) -> str:
    """Return EPSG:nnnn where there is a code, else WKT."""
    if crs is None:
        return ""
    authority = crs.to_authority()
    return ":".join(authority) if authority else crs.to_wkt()


def input_file(path: Path) -> InputFile:
    """Return name, size and hash of a file; of one that cannot be read a finding tells, and nothing is hashed."""
    digest = hashlib.sha256()
    size = 0
    if path.is_file():
        with suppress(OSError), path.open("rb") as file:
            while block := file.read(_BLOCK_BYTES):
                digest.update(block)
                size += len(block)
    return InputFile(shown_name(path), size, digest.hexdigest())
