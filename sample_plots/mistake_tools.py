"""What the makers of the surveys with mistakes share: writing text files by their marks, and square compartments."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
from sample_map import CRS
from shapely.geometry import Polygon, box

CIRCLES_TOML = """\
[survey]
title = "With mistakes: {title} (invented)"{crs}

[plots]
design = "circle"
radius_m = 12.62
"""
HERE = Path(__file__).parent / "with_mistakes"
WEST_M, SOUTH_M, SIDE_M = 511_000, 6_027_000, 200
MARK = "<-- "


@dataclass(frozen=True)
class Mistake:
    """One mistake that was put in.

    Attributes
    ----------
    folder, file : str
        Where it is.
    row : int or None
        Row of the file as a spreadsheet numbers it, or number of the polygon; None for the whole file.
    code : str
        Finding that is made of it.
    why : str
        What is wrong, in a few words.
    """

    folder: str
    file: str
    row: int | None
    code: str
    why: str


def split_marks(text: str) -> tuple[str, list[tuple[int | None, str, str]]]:
    """Return the text without its marks, and row, code and reason of each mark."""
    lines, marks = [], []
    for line in text.splitlines():
        kept, _, mark = line.partition(MARK)
        whole_file = line.startswith(MARK)
        if not whole_file:
            lines.append(kept.removesuffix(" ") if mark else line)
        for part in mark.split(" | ") if mark else ():
            code, _, why = part.partition(": ")
            marks.append((None if whole_file else len(lines), code, why))
    return "".join(f"{line}\n" for line in lines), marks


def write_texts(folder: str, toml: str, tables: dict[str, str]) -> list[Mistake]:
    """Write settings and text files of one folder; return the mistakes that are marked in them."""
    (HERE / folder).mkdir(parents=True, exist_ok=True)
    found = []
    for name, marked in {"survey.toml": toml, **tables}.items():
        text, marks = split_marks(marked)
        (HERE / folder / name).write_text(text, encoding="utf-8", newline="\n")
        found += [Mistake(folder, name, *mark) for mark in marks]
    return found


def circles(title: str, crs: str | None = None) -> str:
    """Return settings of a survey of plain circles."""
    return CIRCLES_TOML.format(title=title, crs=f'\ncrs = "{crs}"' if crs else "")


def square(column: int, row: int) -> Polygon:
    """Return a square of 200 m of a chequerboard."""
    west, south = WEST_M + SIDE_M * column, SOUTH_M + SIDE_M * row
    return box(west, south, west + SIDE_M, south + SIDE_M)


def squares(names: tuple[str, ...], columns: int = 2) -> gpd.GeoDataFrame:
    """Return compartments of 4 ha side by side."""
    shapes = [square(number % columns, number // columns) for number in range(len(names))]
    return gpd.GeoDataFrame({"compartment": list(names)}, geometry=shapes, crs=CRS)
