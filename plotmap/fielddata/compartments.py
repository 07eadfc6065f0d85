"""The compartment layer: its reference system, its polygons, and what is wrong with them."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import polars as pl
import shapely
from numpy.typing import NDArray
from pyproj import CRS
from pyproj.exceptions import CRSError

from plotmap.errors import SettingsError
from plotmap.fielddata.convert import TypedTable
from plotmap.fielddata.datums import datum_note
from plotmap.fielddata.raw import RawTable
from plotmap.model.field_tables import ONE_STRATUM, SOURCE_ROW
from plotmap.model.findings import Findings, finding, findings_of
from plotmap.spatial.areas import geodesic_area_ha
from plotmap.spatial.crs import BallparkTransformError, is_metric, transform_geometries, utm_zone
from plotmap.spatial.scale import worst_scale
from plotmap.spatial.topology import invalid_reasons, overlaps

NO_STRATUM = "not stated"
"""Stratum of a compartment whose cell is blank in a layer that has strata."""
_DISTORTS, _NOT_METRIC = 0.01, 0.05
"""Lengths on the map may be off by these shares before it is said, and before it is refused."""
_OVERLAP_SHARE = 0.01
_AREA_SHARE = 0.05
_LEAST_M2 = 1.0
"""Below this a polygon is a slip of the mouse; the register cannot state less either."""
_POLYGONS = (shapely.GeometryType.POLYGON, shapely.GeometryType.MULTIPOLYGON)


def settle_crs(
    wanted: str | None, layer_crs: str, polygons: NDArray[np.object_], source: str
) -> tuple[CRS | None, Findings]:
    """Return the CRS of the survey: the one in the settings, else the layer's, else the UTM zone it lies in.

    Parameters
    ----------
    wanted : str or None
        ``[survey] crs``.
    layer_crs : str
        CRS of the compartment layer, empty where it has none.
    polygons : array of shapely geometries
        Of the layer.
    source : str
        File of the layer.

    Returns
    -------
    crs : pyproj.CRS or None
        Projected, in metres; None where there is none, and a finding says why.
    findings : Findings
        crs-not-metric, compartments-without-crs.

    Raises
    ------
    SettingsError
        ``[survey] crs`` names no CRS that PROJ knows.
    """
    without = (
        Findings.none() if layer_crs else finding("compartments-without-crs", source, "the layer has no CRS")
    )
    if wanted is not None:
        try:
            crs = CRS.from_user_input(wanted)
        except CRSError as error:
            raise SettingsError(
                f"survey.toml, [survey] crs is {wanted!r}, but must be a CRS that PROJ knows. Write it as "
                "EPSG:32630, for instance."
            ) from error
        if is_metric(crs):
            return crs, without
        message = (
            f"[survey] crs is {wanted} ({crs.name}), but must be projected, in metres, and not Web Mercator"
        )
        bad = finding("crs-not-metric", "survey.toml", message, column="crs", value=wanted)
        return None, Findings.join([without, bad])
    if (
        not layer_crs or (shapely.is_missing(polygons) | shapely.is_empty(polygons)).all()
    ):  # nothing there: another finding says so
        return None, without
    crs = CRS.from_user_input(layer_crs)
    return (crs, without) if is_metric(crs) else _metric_instead(crs, polygons, source)


def _metric_instead(crs: CRS, polygons: NDArray[np.object_], source: str) -> tuple[CRS | None, Findings]:
    """Return the UTM zone of a layer in degrees; a finding for any other CRS that is not metric."""
    if not crs.is_geographic:
        message = f"the CRS is {crs.name}, but must be projected, in metres, and not Web Mercator"
        return None, finding("crs-not-metric", source, message, value=crs.name)
    west, south, east, north = shapely.total_bounds(polygons)
    said = f"the layer says {crs.name} (degrees), but"
    swapped = "longitude and latitude may be swapped"
    if not (-180 <= west <= east <= 180 and -90 <= south <= north <= 90):  # noqa: PLR2004
        could_be = -180 <= south <= north <= 180 and -90 <= west <= east <= 90  # noqa: PLR2004
        message = f"{said} its coordinates are no degrees" + (f": {swapped}" if could_be else "")
        return None, finding("crs-not-metric", source, message, value=crs.name)
    middle = (south + north) / 2
    try:
        return utm_zone(_middle_longitude(polygons), middle), Findings.none()
    except ValueError:
        said += f" its latitudes are about {middle:.1f}°, where there are no UTM zones"
        could_be = -80 <= west <= east <= 84  # noqa: PLR2004 - the range of UTM
        message = said + (f": {swapped}" if could_be else "")
        hint = None if could_be else "Name a polar CRS in metres under [survey] crs."
        return None, finding("crs-not-metric", source, message, value=crs.name, hint=hint)


def _middle_longitude(polygons: NDArray[np.object_]) -> float:
    """Return the middle longitude of a layer in degrees, also where it lies on both sides of 180°."""
    bounds = shapely.bounds(polygons)
    bounds = bounds[np.isfinite(bounds).all(axis=1)]
    angle = np.radians((bounds[:, 0] + bounds[:, 2]) / 2)
    centre = np.degrees(np.arctan2(np.sin(angle).mean(), np.cos(angle).mean()))
    beside = (bounds[:, [0, 2]] - centre + 180) % 360 - 180
    middle = centre + (beside.min() + beside.max()) / 2
    return float((middle + 180) % 360 - 180)


def _distortion(
    crs: CRS, shapes: NDArray[np.object_], wanted: str | None, source: str
) -> tuple[CRS | None, Findings]:
    """Return the CRS with crs-distorts where lengths are off a little; None with crs-not-metric where much."""
    bounds = shapely.total_bounds(shapes)
    if not np.isfinite(bounds).all():
        return crs, Findings.none()
    west, south, east, north = bounds
    x = [west, west, east, east, (west + east) / 2]
    y = [south, north, south, north, (south + north) / 2]
    scale = worst_scale(crs, x, y)
    off = abs(scale - 1)
    if off <= _DISTORTS:
        return crs, Findings.none()
    where = f"[survey] crs is {wanted} ({crs.name})" if wanted else f"the CRS is {crs.name}"
    much = (
        f"lengths there are {100 * off:.1f} % too {'long' if scale > 1 else 'short'}"
        if np.isfinite(scale)
        else "the projection cannot show them"
    )
    code = "crs-distorts" if off <= _NOT_METRIC else "crs-not-metric"
    message = f"{where}, which does not suit the place of the compartments: {much}"
    found = finding(code, "survey.toml" if wanted else source, message, value=wanted or crs.name)
    return (crs if code == "crs-distorts" else None), found


def read_compartments(
    typed: TypedTable, raw: RawTable, wanted_crs: str | None, source: str
) -> tuple[gpd.GeoDataFrame, CRS | None, Findings]:
    """Return the compartments in the survey's CRS with everything that is wrong about them.

    Parameters
    ----------
    typed : TypedTable
        Attributes.
    raw : RawTable
        The layer, for its geometry and CRS.
    wanted_crs : str or None
        ``[survey] crs``.
    source : str
        File, for findings.

    Returns
    -------
    frame : geopandas.GeoDataFrame
        As `plotmap.model.survey.Survey.compartments`.
    crs : pyproj.CRS or None
        CRS of the survey.
    findings : Findings
        Of the layer.

    Raises
    ------
    SettingsError
        ``[survey] crs`` names no CRS that PROJ knows.
    """
    shapes = np.full(typed.frame.height, None, dtype=object)
    if raw.geometry is not None:
        shapes = shapely.force_2d(raw.geometry[typed.kept.to_numpy()])
    crs, found = settle_crs(wanted_crs, raw.crs, shapes, source)
    kinds = shapely.get_type_id(shapes)
    wrong_kind = (kinds >= 0) & ~np.isin(kinds, _POLYGONS)
    findings = [found, _not_polygons(typed.frame.filter(pl.Series(wrong_kind)), kinds[wrong_kind], source)]
    shapes[wrong_kind] = None
    as_read = shapes if raw.crs and CRS.from_user_input(raw.crs).is_geographic else None
    if crs is not None and raw.crs:
        try:
            found = _moved_datum(shapes, raw.crs, crs, source)
            shapes = transform_geometries(shapes, CRS.from_user_input(raw.crs), crs)
            findings.append(found)
        except BallparkTransformError as error:
            findings.append(finding("datum-ballpark", source, str(error)))
            crs = None  # nothing can be located or measured
    if crs is not None and raw.crs:
        crs, found = _distortion(crs, shapes, wanted_crs, source)
        findings.append(found)
    frame = _frame(typed.frame, shapes, crs)
    findings += [_twice(typed.frame, source), _shape_faults(frame, wrong_kind, as_read, source)]
    if crs is not None:
        findings += [_overlap_faults(frame, source), _area_faults(frame, source)]
    return frame, crs, Findings.join(findings)


def as_invalid(findings: Findings) -> Findings:
    """Return findings of reading with geometry-broken made compartment-invalid: of a compartment it is an error."""
    broken = findings.frame.filter(pl.col("code") == "geometry-broken")
    rest = Findings(findings.frame.filter(pl.col("code") != "geometry-broken"))
    parts = [
        findings_of("compartment-invalid", each, str(file), pl.col("message"), row="row", value="value")
        for (file,), each in broken.group_by("file", maintain_order=True)
    ]
    return Findings.join([rest, *parts])


def _moved_datum(shapes: NDArray[np.object_], layer_crs: str, crs: CRS, source: str) -> Findings:
    """Return datum-shift where the layer changes its datum."""
    west, south, east, north = shapely.total_bounds(shapes)
    corners = (np.array([west, east]), np.array([south, north]))
    return datum_note("the polygons", corners, CRS.from_user_input(layer_crs), crs, source)


def _frame(table: pl.DataFrame, shapes: NDArray[np.object_], crs: CRS | None) -> gpd.GeoDataFrame:
    """Return the GeoDataFrame with names, strata and geodesic areas filled in."""
    has_strata = table["stratum"].is_not_null().any()
    filled = table.with_columns(
        pl.coalesce("name", "compartment").alias("name"),
        pl.col("stratum").fill_null(NO_STRATUM if has_strata else ONE_STRATUM),
    )
    area = geodesic_area_ha(shapes, crs) if crs is not None else np.full(table.height, np.nan)
    frame = gpd.GeoDataFrame(filled.to_pandas(), geometry=shapes, crs=crs)
    frame["area_geodesic_ha"] = area
    return frame


def _not_polygons(wrong: pl.DataFrame, kinds: NDArray[np.integer], source: str) -> Findings:
    """Return geometry-not-polygon for rows of the kinds given."""
    names = {kind.value: kind.name.lower() for kind in shapely.GeometryType}
    rows = wrong.with_columns(pl.Series("kind", [names[int(kind)] for kind in kinds], dtype=pl.String))
    message = pl.format("compartment {} is a {}, but must be a polygon", _named("compartment"), "kind")
    return findings_of("geometry-not-polygon", rows, source, message, compartment="compartment", value="kind")


def _named(column: str) -> pl.Expr:
    """Return an identifier for messages, also where it is missing."""
    return pl.col(column).fill_null("without a name")


def _twice(table: pl.DataFrame, source: str) -> Findings:
    """Return compartment-twice."""
    rows = table.filter(pl.col("compartment").is_not_null()).with_columns(
        pl.col(SOURCE_ROW).first().over("compartment").alias("first")
    )
    again = rows.filter(pl.col(SOURCE_ROW) != pl.col("first"))
    message = pl.format("compartment {} comes again; it is first in row {}", "compartment", "first")
    return findings_of(
        "compartment-twice",
        again,
        source,
        message,
        compartment="compartment",
        column="compartment",
        value="compartment",
    )


def _shape_faults(
    frame: gpd.GeoDataFrame,
    wrong_kind: NDArray[np.bool_],
    degrees: NDArray[np.object_] | None,
    source: str,
) -> Findings:
    """Return compartment-empty and compartment-invalid; places also in degrees where the layer is in degrees."""
    shapes = frame.geometry.to_numpy()
    bare = pl.from_pandas(frame[["compartment", SOURCE_ROW]])
    without = shapely.is_missing(shapes) | shapely.is_empty(shapes)
    empty = without | ((shapely.area(shapes) < _LEAST_M2) & shapely.is_valid(shapes))
    message = pl.format("compartment {} has no polygon, or one of less than 1 m²", _named("compartment"))
    none = findings_of(
        "compartment-empty",
        bare.filter(pl.Series(empty & ~wrong_kind)),
        source,
        message,
        compartment="compartment",
    )
    said = invalid_reasons(shapes)
    also = invalid_reasons(degrees) if degrees is not None else np.full(len(said), None)
    both = [f"{one}; in degrees {two}" if one and two else one for one, two in zip(said, also, strict=True)]
    reasons = pl.Series("reason", both, dtype=pl.String)
    rows = bare.with_columns(reasons).filter(reasons.is_not_null() & ~pl.Series(empty))
    text = pl.format("the polygon of compartment {} is invalid: {}", _named("compartment"), "reason")
    invalid = findings_of(
        "compartment-invalid", rows, source, text, compartment="compartment", value="reason"
    )
    return Findings.join([none, invalid])


def _overlap_faults(frame: gpd.GeoDataFrame, source: str) -> Findings:
    """Return compartment-overlap and compartment-sliver."""
    shapes = frame.geometry.to_numpy()
    pairs = overlaps(shapes)
    if not len(pairs):
        return Findings.none()
    area = shapely.area(shapes)
    names = frame["compartment"].astype(str).to_numpy()
    rows_of = frame[SOURCE_ROW].to_numpy()
    first, second = pairs["first"].to_numpy(), pairs["second"].to_numpy()
    rows = pl.DataFrame(
        {
            SOURCE_ROW: rows_of[second],
            "compartment": names[second],
            "other": names[first],
            "area_m2": pairs["area_m2"].to_numpy(),
            "share": pairs["area_m2"].to_numpy() / np.minimum(area[first], area[second]),
        }
    )
    message = pl.format(
        "compartments {} and {} overlap by {} m² ({} % of the smaller)",
        "other", "compartment", pl.col("area_m2").round(1), (100 * pl.col("share")).round(2),
    )  # fmt: skip
    large = pl.col("share") > _OVERLAP_SHARE
    return Findings.join(
        findings_of(code, rows.filter(which), source, message, compartment="compartment", value="other")
        for code, which in (("compartment-overlap", large), ("compartment-sliver", ~large))
    )


def _area_faults(frame: gpd.GeoDataFrame, source: str) -> Findings:
    """Return compartment-area-differs."""
    rows = pl.from_pandas(frame[["compartment", SOURCE_ROW, "area_ha", "area_geodesic_ha"]]).filter(
        pl.col("area_geodesic_ha") * 10_000 > _LEAST_M2,
        (pl.col("area_ha") / pl.col("area_geodesic_ha") - 1).abs() > _AREA_SHARE,
    )
    message = pl.format(
        "the register says {} ha, the polygon has {} ha", "area_ha", pl.col("area_geodesic_ha").round(3)
    )
    return findings_of(
        "compartment-area-differs", rows, source, message,
        compartment="compartment", column="area_ha", value="area_ha",
    )  # fmt: skip
