"""Make the surveys with mistakes anew: ``python sample_plots/make_mistakes.py``. Everything is invented.

One small survey folder for each group of mistakes that can be shown together, and a page that says which file and
row shows which finding. The same bytes come out every time.
"""

from __future__ import annotations

import datetime as dt
import shutil

import geopandas as gpd
import pyogrio
import xlsxwriter
from mistake_sheets import (
    BROKEN_FILES,
    CROOKED_MAP,
    FIELD_SHEETS,
    FIELD_SHEETS_TOML,
    HEADING_ONLY,
    MISSING_TABLE,
    TWO_PLOTS_LON_LAT,
    WRONG_HEADINGS,
)
from mistake_tools import HERE, Mistake, circles, square, squares, write_texts
from mistakes_change import change_mistakes
from mistakes_checks import check_mistakes
from mistakes_designs import design_mistakes
from mistakes_heights import height_mistakes
from mistakes_map import map_mistakes
from mistakes_positions import position_mistakes
from mistakes_reading import reading_mistakes
from mistakes_samples import sample_mistakes
from mistakes_sheets import sheet_mistakes
from mistakes_stems import stem_mistakes
from mistakes_thinning import thinning_mistakes
from sample_map import CRS, LAST_CHANGE, write_layer
from shapely.geometry import LineString, Polygon, box


def main() -> None:
    """Write every folder and the page."""
    shutil.rmtree(HERE, ignore_errors=True)
    mistakes = [
        *field_sheets(),
        *crooked_map(),
        *broken_files(),
        *wrong_headings(),
        *heading_only(),
        *missing_table(),
        *layer_without_crs(),
        *web_mercator(),
        *ballpark_datum(),
        *design_mistakes(),
        *check_mistakes(),
        *reading_mistakes(),
        *position_mistakes(),
        *sheet_mistakes(),
        *stem_mistakes(),
        *change_mistakes(),
        *height_mistakes(),
        *sample_mistakes(),
        *map_mistakes(),
        *thinning_mistakes(),
    ]
    (HERE / "README.md").write_text(page(mistakes), encoding="utf-8", newline="\n")
    print(f"{len(mistakes)} mistakes, {len({mistake.code for mistake in mistakes})} kinds of finding")


def field_sheets() -> list[Mistake]:
    """Mistakes of plots, stems, tallies, instruments and species."""
    found = write_texts("field_sheets", FIELD_SHEETS_TOML, FIELD_SHEETS)
    write_layer(squares(("1", "2", "3", "4")), HERE / "field_sheets" / "compartments.gpkg", "compartments")
    return found


def crooked_map() -> list[Mistake]:
    """Mistakes of the compartment layer."""
    folder, file = "crooked_map", "compartments.gpkg"
    bow_tie = Polygon(
        [(511_000, 6_027_300), (511_200, 6_027_500), (511_200, 6_027_300), (511_000, 6_027_450)]
    )
    rows = (
        ("1", 4.0, square(0, 0), "", ""),
        ("2", 4.4, box(511_180, 6_027_000, 511_400, 6_027_200), "compartment-overlap", "20 m of it lie on 1"),
        ("3", 4.0, box(511_399.5, 6_027_000, 511_600, 6_027_200), "compartment-sliver", "its edge lies inside 2"),
        ("4", 4.0, bow_tie, "compartment-invalid", "the boundary crosses itself, as in a bow tie"),
        ("5", 4.0, None, "compartment-empty", "a row without polygon"),
        ("6", 4.0, box(511_300, 6_027_300, 511_500, 6_027_500), "", ""),
        ("6", 4.0, box(511_600, 6_027_300, 511_800, 6_027_500), "compartment-twice", "a second polygon called 6"),
        ("7", 5.0, box(511_900, 6_027_000, 512_100, 6_027_200), "compartment-area-differs", "4.0 ha on the map"),
        ("8", 4.0, LineString([(511_900, 6_027_300), (512_100, 6_027_500)]), "geometry-not-polygon", "a line"),
    )  # fmt: skip
    found = write_texts(folder, circles("crooked map", CRS), CROOKED_MAP)
    frame = gpd.GeoDataFrame(
        {"compartment": [row[0] for row in rows], "area_ha": [row[1] for row in rows]},
        geometry=[row[2] for row in rows],
        crs=CRS,
    )
    write_layer(frame, HERE / folder / file, "compartments")
    marked = enumerate(rows, start=1)
    return found + [Mistake(folder, file, number, row[3], row[4]) for number, row in marked if row[3]]


def broken_files() -> list[Mistake]:
    """Mistakes of whole files."""
    folder = "broken_files"
    found = write_texts(folder, circles("broken files", CRS), BROKEN_FILES)
    write_layer(squares(("1", "2")), HERE / folder / "compartments.gpkg", "compartments")
    with xlsxwriter.Workbook(HERE / folder / "plots.xlsx") as book:
        book.set_properties({"created": dt.datetime.fromisoformat(LAST_CHANGE)})
        sheet = book.add_worksheet("plots")
        rows = (("plot", "easting", "northing"), ("P01", 511_100, 6_027_100), ("P02", 511_310, 6_027_120))
        for number, row in enumerate(rows):
            sheet.write_row(number, 0, row)
    return found


def wrong_headings() -> list[Mistake]:
    """Mistakes of headings."""
    found = write_texts("wrong_headings", circles("wrong headings", CRS), WRONG_HEADINGS)
    write_layer(squares(("1", "2")), HERE / "wrong_headings" / "compartments.gpkg", "compartments")
    return found


def heading_only() -> list[Mistake]:
    """Write a table of stems without a stem."""
    found = write_texts("heading_only", circles("heading only", CRS), HEADING_ONLY)
    write_layer(squares(("1", "2")), HERE / "heading_only" / "compartments.gpkg", "compartments")
    return found


def missing_table() -> list[Mistake]:
    """Compartments under a name that is not looked for."""
    folder, file = "missing_table", "boundaries.gpkg"
    found = write_texts(folder, circles("missing table", CRS), MISSING_TABLE)
    write_layer(squares(("1", "2")), HERE / folder / file, "boundaries")
    return [
        *found,
        Mistake(
            folder, "compartments", None, "table-missing", "the layer in boundaries.gpkg has another name"
        ),
        Mistake(folder, file, None, "file-unused", "boundaries is no table of plotmap"),
    ]


def lon_lat(lon: float, lat: float, species: str) -> dict[str, str]:
    """Return the tables of a survey with one plot located by longitude and latitude."""
    return {name: text.format(lon=lon, lat=lat, species=species) for name, text in TWO_PLOTS_LON_LAT.items()}


def layer_without_crs() -> list[Mistake]:
    """Bring a Shapefile without its .prj file; its field names are cut at ten letters, so one is mapped."""
    folder, file = "layer_without_crs", "compartments.shp"
    toml = circles("layer without CRS", CRS).replace(
        "\n[plots]", '\n[columns.compartments]\n"compartmen" = "compartment"\n\n[plots]'
    )
    found = write_texts(folder, toml, lon_lat(-2.829, 54.3915, "oak"))
    bare = squares(("1", "2")).rename(columns={"compartment": "compartmen"})
    path = HERE / folder / file
    pyogrio.write_dataframe(bare, path, driver="ESRI Shapefile", DBF_DATE_LAST_UPDATE=LAST_CHANGE[:10])
    path.with_suffix(".prj").unlink()
    return [*found, Mistake(folder, file, None, "compartments-without-crs", "the .prj file was not copied")]


def web_mercator() -> list[Mistake]:
    """Compartments saved from a web map, and no CRS in the settings."""
    folder, file = "web_mercator", "compartments.gpkg"
    found = write_texts(folder, circles("Web Mercator"), lon_lat(-2.829, 54.3915, "oak"))
    frame = squares(("1", "2")).to_crs("EPSG:3857")
    frame = frame.set_geometry(frame.geometry.set_precision(0.01))
    write_layer(frame, HERE / folder / file, "compartments")
    return [*found, Mistake(folder, file, None, "crs-not-metric", "EPSG:3857 stretches metres")]


def ballpark_datum() -> list[Mistake]:
    """Compartments on a datum of 1880 that PROJ can bring to WGS 84 only by a ballpark."""
    folder, file = "ballpark_datum", "compartments.gpkg"
    found = write_texts(folder, circles("ballpark datum", "EPSG:32644"), lon_lat(80.5005, 20.0005, "teak"))
    shapes = [box(80.500, 20.000, 80.501, 20.001), box(80.501, 20.000, 80.502, 20.001)]
    frame = gpd.GeoDataFrame({"compartment": ["1", "2"]}, geometry=shapes, crs="EPSG:4243")
    write_layer(frame, HERE / folder / file, "compartments")
    return [*found, Mistake(folder, file, None, "datum-ballpark", "EPSG:4243 (Kalianpur 1880) to EPSG:32644")]


def page(mistakes: list[Mistake]) -> str:
    """Return the page that says where each finding comes from."""
    lines = [
        "# Surveys with mistakes",
        "",
        "Small invented surveys that go wrong on purpose, at least one mistake for every finding of plotmap. Run",
        "`plotmap check sample_plots/with_mistakes/field_sheets` (or another folder) and compare.",
        "",
        "Rows are those of the file as a spreadsheet numbers them; of a layer, the polygon from 1. Other findings",
        "may follow from these: where the plots have no identifier, for instance, every stem is without a plot.",
        "",
        "`two_surveys` holds two folders to compare: `plotmap compare two_surveys/old two_surveys/new`.",
        "",
        "Made by `python sample_plots/make_mistakes.py`; do not edit by hand.",
    ]
    for folder in dict.fromkeys(mistake.folder for mistake in mistakes):
        lines += ["", f"## {folder}", "", "| file | row | finding | what is wrong |", "|---|---|---|---|"]
        lines += [
            f"| {mistake.file} | {mistake.row or '-'} | `{mistake.code}` | {mistake.why} |"
            for mistake in mistakes
            if mistake.folder == folder
        ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    main()
