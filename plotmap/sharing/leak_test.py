"""The leak test: opens every file that was written and looks for what must not be in it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from itertools import islice
from pathlib import Path

import numpy as np
import numpy.typing as npt
import polars as pl
import shapely

from plotmap.model.finding_rules import RULES
from plotmap.model.labels import LANGUAGES, catalogue, known_keys
from plotmap.model.result_tables import PLOT_RESULTS, RESULT_TABLES
from plotmap.model.sharing import Hidden, Leak, Secrets
from plotmap.model.survey import Stand, Survey
from plotmap.sharing.contents import Part, Unpack, UnreadableError, parts_of, texts_of
from plotmap.sharing.positions_found import PositionsFound
from plotmap.sharing.species import sensitive_names
from plotmap.sharing.stands import true_places
from plotmap.sharing.words_found import IdentifiersFound, WordsFound

POSITION, PLOT, CREW, SPECIES = (
    "a position",
    "an identifier of a plot",
    "the name of a crew or instrument",
    "the name of a sensitive species",
)
"""Kinds of leaks."""
NOT_SEARCHED = "a file that cannot be searched"
_CORNER_M = 1.0
"""Positions this near to a corner or the middle of a compartment cannot be told from it."""
_AT_ONCE = 100
"""Parts of a file whose texts are searched together."""
_WGS84 = 4326


def secrets_of(survey: Survey, stand: Stand, hidden: Hidden) -> Secrets:
    """Return what must not be found in files made of a survey for others.

    Parameters
    ----------
    survey : Survey
        As it was read.
    stand : Stand
        As it was computed, before anything was taken out: positions of stems come from it.
    hidden : Hidden
        Spellings of sensitive species, misspelt ones too.
    """
    crews = [
        *survey.plots["crew"].dropna().astype(str),
        *(
            name
            for frame, columns in (
                (survey.check_trees, ("crew", "instrument")),
                (survey.trees, ("instrument",)),
                (survey.tallies, ("instrument",)),
                (survey.instruments, ("instrument",)),
            )
            for column in columns
            if column in frame.columns
            for name in frame[column].drop_nulls().unique().to_list()
        ),
    ]
    compartments = survey.compartments
    shown = {
        str(name) for column in ("compartment", "name", "stratum") for name in compartments[column].dropna()
    } | _species_texts(
        survey
    )  # a crew may be called as a species that is shown; species have a search of their own
    return Secrets(
        positions=true_places(stand),
        crs=stand.crs,
        plots=frozenset(survey.plots["plot"].dropna().astype(str)),
        crews=frozenset(crews),
        species=sensitive_names(survey.species) | hidden.written,
        places=_corners(stand),
        shown=frozenset(shown),
        allowed=frozenset(survey.settings.share.may_show),
    )


def _species_texts(survey: Survey) -> set[str]:
    """Return what the survey calls its species."""
    columns = [
        survey.species[name]
        for name in ("species", "name", "local_name", "group")
        if name in survey.species.columns
    ]
    columns += [frame["species"] for frame in (survey.trees, survey.tallies) if "species" in frame.columns]
    return {text for column in columns for text in column.drop_nulls().unique().to_list()}


def leaks(folder: Path, secrets: Secrets, unpack: Unpack) -> list[Leak]:
    """Return the secrets found in the files of a folder.

    Every file is opened by a reader of its format that knows nothing of how things were hidden: pages with their
    packed data, every table, view and byte of GeoPackages, every part of workbooks, texts of PDF. Positions are
    looked for as numbers in one row, as numbers after each other in a text, as steps in packed data and as
    floating-point numbers in bytes, in the CRS of the survey and in degrees. `docs/sharing.md` says what
    cannot be told.

    Parameters
    ----------
    folder : Path
        What is to be shared.
    secrets : Secrets
        What must not be found.
    unpack : callable
        Makes lists and texts of the packed data of the map.

    Returns
    -------
    list of Leak
        One for each file, kind and place, without the secret. A file of a kind that cannot be searched is one too.
    """
    search = _Search(secrets)
    found: dict[Leak, None] = {}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        for kind in search.kinds(Part("name", texts_of([name, *path.relative_to(folder).parts, path.stem]))):
            found[Leak("(name of a file)", kind, "name")] = None
        if not path.is_file():
            continue
        try:
            parts = parts_of(path, unpack)
            while some := list(islice(parts, _AT_ONCE)):
                for where, kind in search.through(some):
                    found[Leak(name, kind, where)] = None
        except UnreadableError:
            found[Leak(name, NOT_SEARCHED, "file")] = None
    return list(found)


class _Search:
    """What to look for, prepared once for all files."""

    def __init__(self, secrets: Secrets) -> None:
        own = {*_own_texts(), *_reference_texts(secrets.crs)}
        free = {*secrets.shown, *secrets.allowed}
        self._species = WordsFound(secrets.species, secrets.allowed, own)
        self._crews = WordsFound(secrets.crews, free, own)
        headings = _plot_headings()
        self._apart = {*headings, "bytes"}
        self._plots = IdentifiersFound(secrets.plots, free, headings)
        positions = _apart(secrets.positions, secrets.places)
        self._positions = PositionsFound(positions, _lonlat(positions, secrets.crs))

    def through(self, parts: list[Part]) -> Iterator[tuple[str, str]]:
        """Yield place and kind of what is found; texts are searched one by one only where all together hold any."""
        together: dict[str, list[pl.Series]] = {}
        for part in parts:
            if part.texts.len():
                together.setdefault(part.heading if part.heading in self._apart else "", []).append(
                    part.texts
                )
        merged = [Part("", texts_of(pl.concat(texts)), heading) for heading, texts in together.items()]
        clean = not any(self.kinds(part) for part in merged)
        for part in parts:
            if clean and not part.columns and not part.raw:
                continue
            for kind in self.kinds(replace(part, texts=part.texts.clear()) if clean else part):
                yield part.where, kind

    def kinds(self, part: Part) -> list[str]:
        """Return the kinds of secrets that a part of a file holds."""
        of_bytes = part.heading == "bytes"
        found = []
        if part.texts.len():
            if self._species.in_texts(part.texts, of_bytes=of_bytes):
                found.append(SPECIES)
            if self._crews.in_texts(part.texts, of_bytes=of_bytes):
                found.append(CREW)
            if self._plots.in_texts(part.texts, part.heading, of_bytes=of_bytes):
                found.append(PLOT)
        if self._holds_position(part, of_bytes=of_bytes):
            found.append(POSITION)
        return found

    def _holds_position(self, part: Part, *, of_bytes: bool) -> bool:
        """Say whether a part holds a position in any form."""
        if part.columns and self._positions.in_columns(
            part.columns, packed=part.packed, alone=not part.packed
        ):
            return True
        if part.raw and self._positions.in_bytes(part.raw):
            return True
        if of_bytes or not part.texts.len():
            return False
        numbers = _numbers_in(part.texts)
        pairs = ((numbers[:-step], numbers[step:]) for step in (1, 2) if len(numbers) > step)
        return any(self._positions.in_columns(pair) for pair in pairs)


def _numbers_in(texts: pl.Series) -> npt.NDArray[np.float64]:
    """Return the numbers in texts one after the other, gaps between the texts."""
    found = texts.str.extract_all(r"[-+]?\d+(?:[.,]\d+)?")
    marked = found.filter(found.list.len() > 1).list.concat(pl.Series([["", ""]]))
    plain = marked.explode().str.replace(",", ".", literal=True)
    return np.asarray(plain.cast(pl.Float64, strict=False).fill_null(np.nan).to_numpy(), dtype=np.float64)


def _apart(positions: npt.NDArray[np.float64], places: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Return the positions that are none of the places that may be shown."""
    if not len(positions) or not len(places):
        return positions
    tree = shapely.STRtree(np.asarray(shapely.points(places), dtype=object))
    near = tree.query(shapely.points(positions), predicate="dwithin", distance=_CORNER_M)[0]
    return np.delete(positions, np.unique(near), axis=0)


def _corners(stand: Stand) -> npt.NDArray[np.float64]:
    """Return corners and middles of the compartments, shape (n, 2)."""
    shapes = stand.compartments.geometry.to_numpy()
    shapes = shapes[~(shapely.is_missing(shapes) | shapely.is_empty(shapes))]
    middles = [shapely.centroid(shapes), shapely.point_on_surface(shapes)]
    parts = [shapely.get_coordinates(shapes), *(shapely.get_coordinates(points) for points in middles)]
    return np.concatenate(parts)


def _lonlat(positions: npt.NDArray[np.float64], crs: str) -> npt.NDArray[np.float64]:
    """Return positions in degrees; without rows where there is no CRS."""
    from pyproj import Transformer  # noqa: PLC0415 - slow to import

    if not crs or not len(positions):
        return np.empty((0, 2))
    made = Transformer.from_crs(crs, _WGS84, always_xy=True).transform(positions[:, 0], positions[:, 1])
    found = np.column_stack(made)
    coarse = (np.abs(found - np.round(found, 3)) < 1e-9).all(axis=1)  # noqa: PLR2004 - any figures look like these
    kept: npt.NDArray[np.float64] = found[np.isfinite(found).all(axis=1) & ~coarse]
    return kept


@cache
def _own_texts() -> frozenset[str]:
    """Return the texts that plotmap itself writes: labels, titles and meanings of columns, words, findings."""
    texts = {text for language in LANGUAGES for text in catalogue(language).values()}
    texts |= {*known_keys().values(), *(key.rpartition(".")[2] for key in known_keys())}
    for table in RESULT_TABLES:
        texts |= {table.name, table.title, table.row_is}
        for column in table.columns:
            texts |= {
                column.name,
                column.title,
                column.heading,
                column.meaning,
                *column.choices,
                *column.explained,
            }
    for rule in RULES.values():
        texts |= {rule.code, rule.title, rule.meaning, rule.hint}
    return frozenset(texts)


def _reference_texts(crs: str) -> set[str]:
    """Return what describes coordinate systems, as every GeoPackage holds it."""
    from pyproj import CRS  # noqa: PLC0415 - slow to import

    systems = [CRS.from_epsg(_WGS84), *([CRS.from_user_input(crs)] if crs else [])]
    return {text for system in systems for text in (system.name, system.to_wkt(), system.to_wkt("WKT1_GDAL"))}


def _plot_headings() -> set[str]:
    """Return what columns of plots are headed in any language."""
    known = (
        catalogue(language).get(f"column.{place}")
        for language in LANGUAGES
        for place in ("plot", "plots.plot")
    )
    return {PLOT_RESULTS["plot"].name, PLOT_RESULTS["plot"].title, *(text for text in known if text)}
