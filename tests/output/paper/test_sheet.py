"""Map sheets, measured on the file: scale, bar, paper, words; one sheet and many."""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely.geometry import MultiPolygon, Point, Polygon, box

from plotmap.errors import OutputError, SettingsError
from plotmap.model.paper import SHEET_THEMES, SheetWish
from plotmap.model.survey import Stand
from plotmap.output.paper import write_sheet
from plotmap.output.webmap.themes import ramp
from tests.output.paper.map_page import stand_of
from tests.output.paper.pdf_pages import (
    Shape,
    filled,
    fonts,
    has_colour,
    n_pages,
    picture,
    size_mm,
    text_boxes_mm,
    words,
)
from tests.output.webmap.larger_stand import larger_stand
from tests.stand_example import stand_example

KILOMETRE = box(499_500, 5_600_000, 500_500, 5_601_000)
AT_10_000 = SheetWish("A3", 10_000)
COLOURS = {colour for classes in range(1, 10) for colour in ramp(classes)}


def sheet(folder: Path, stand: Stand, wish: SheetWish = AT_10_000) -> bytes:
    write_sheet(stand, folder / "sheet.pdf", wish)
    return (folder / "sheet.pdf").read_bytes()


def compartments(content: bytes, page: int = 0) -> list[Shape]:
    """Return the filled outlines in colours of the theme, without the legend's."""
    return [shape for shape in filled(content, page) if shape.colour in COLOURS and shape.width_mm > 7.1]


def bar(content: bytes, page: int = 0) -> tuple[float, float]:
    """Return the ends of the scale bar: pieces 1.6 mm high."""
    pieces = [
        shape for shape in filled(content, page) if abs(shape.height_mm - 1.6) < 0.01 and shape.width_mm > 2
    ]
    assert len(pieces) == 4
    return min(piece.left_mm for piece in pieces), max(piece.right_mm for piece in pieces)


def with_settings(stand: Stand, **sections: dict[str, object]) -> Stand:
    """Return a stand with keys of its settings replaced."""
    parts = {name: getattr(stand.settings, name).model_copy(update=keys) for name, keys in sections.items()}
    return replace(stand, settings=stand.settings.model_copy(update=parts))


def test_a_kilometre_is_100_mm_at_one_to_ten_thousand_on_a3(tmp_path: Path) -> None:
    content = sheet(tmp_path, stand_of(KILOMETRE))  # geometry, needs no source
    (square,) = compartments(content)
    assert square.width_mm == pytest.approx(100.0, abs=0.1)
    assert square.height_mm == pytest.approx(100.0, abs=0.1)
    assert sorted(size_mm(content)) == pytest.approx([297.0, 420.0], abs=0.01)


def test_the_picture_of_the_sheet_says_the_same(tmp_path: Path) -> None:
    content = sheet(tmp_path, stand_of(KILOMETRE))
    (square,) = compartments(content)
    dots = picture(content, dots_per_mm=8)[:, round((square.left_mm + 10) * 8)]
    wanted = [int(square.colour[at : at + 2], 16) for at in (1, 3, 5)]
    inside = np.abs(dots.astype(int) - wanted).max(axis=1) <= 3
    assert inside.sum() / 8 == pytest.approx(100.0, abs=0.5)  # half the boundary on each side, and a dot


@pytest.mark.parametrize("scale", [5_000, 10_000, 25_000, 12_345])
def test_the_scale_bar_has_the_length_it_says(tmp_path: Path, scale: float) -> None:
    content = sheet(tmp_path, stand_of(KILOMETRE), SheetWish("A3", scale))
    left, right = bar(content)
    text = words(content)
    said = {5_000: 200, 10_000: 500, 25_000: 1_000, 12_345: 500}[int(scale)]
    assert right - left == pytest.approx(said * 1000 / scale, abs=0.1)
    assert f"{said:,} m".replace(",", "\u202f") in text
    assert f"1 : {scale:,.0f}".replace(",", "\u202f") in text


def test_without_a_scale_the_largest_round_one_that_fits_is_taken(tmp_path: Path) -> None:
    found = write_sheet(stand_of(KILOMETRE), tmp_path / "sheet.pdf", SheetWish("A4"))
    assert found.scale_denominator == 7_500  # 1 000 m are 133 mm then, and 200 mm at the next, 1 : 5 000
    assert found.n_sheets == 1
    (square,) = compartments((tmp_path / "sheet.pdf").read_bytes())
    assert square.width_mm == pytest.approx(1e6 / 7_500, abs=0.1)


def test_the_paper_is_held_so_that_the_survey_is_larger(tmp_path: Path) -> None:
    wide = write_sheet(
        stand_of(box(499_000, 5_600_000, 501_000, 5_600_200)), tmp_path / "a.pdf", SheetWish("A4")
    )
    high = write_sheet(
        stand_of(box(499_900, 5_600_000, 500_100, 5_602_000)), tmp_path / "b.pdf", SheetWish("A4")
    )
    assert wide.paper.width_mm == 297
    assert high.paper.width_mm == 210
    asked = SheetWish("A4", orientation="portrait")
    kept = write_sheet(stand_of(box(499_000, 5_600_000, 501_000, 5_600_200)), tmp_path / "c.pdf", asked)
    assert kept.paper.width_mm == 210


def test_several_sheets_hold_every_compartment_at_the_scale(tmp_path: Path) -> None:
    squares = [box(500_000 + 600 * i, 5_600_000 + 600 * j, 500_500 + 600 * i, 5_600_500 + 600 * j)
               for i in range(3) for j in range(3)]  # fmt: skip
    stand = stand_of(*squares, names=[f"N{number}" for number in range(9)])
    found = write_sheet(stand, tmp_path / "sheet.pdf", SheetWish("A4", 5_000))
    content = (tmp_path / "sheet.pdf").read_bytes()
    assert found.n_sheets == n_pages(content) > 1
    whole: set[str] = set()
    for page in range(found.n_sheets):
        text = words(content, page)
        whole |= {f"N{number}" for number in range(9) if f"N{number}" in text}
        assert f"sheet {page + 1} of {found.n_sheets}" in text
        assert f"page {page + 1} of {found.n_sheets}" in text
        assert "Sheets" in text
    assert whole == {f"N{number}" for number in range(9)}
    full = [shape for page in range(found.n_sheets) for shape in compartments(content, page)]
    assert max(shape.width_mm for shape in full) == pytest.approx(100, abs=0.1)  # 500 m


def test_no_ground_is_lost_between_sheets(tmp_path: Path) -> None:
    stand = stand_of(box(499_000, 5_599_000, 502_000, 5_602_000))
    found = write_sheet(stand, tmp_path / "sheet.pdf", SheetWish("A4", 10_000))
    content = (tmp_path / "sheet.pdf").read_bytes()
    area_mm2 = sum(
        shape.width_mm * shape.height_mm
        for page in range(found.n_sheets)
        for shape in compartments(content, page)
    )
    assert area_mm2 > 300 * 300


def test_sheets_without_a_compartment_are_left_out(tmp_path: Path) -> None:
    corners = [box(500_000, 5_600_000, 500_200, 5_600_200), box(505_000, 5_605_000, 505_200, 5_605_200)]
    found = write_sheet(stand_of(*corners), tmp_path / "sheet.pdf", SheetWish("A4", 5_000))
    assert found.n_sheets == 2


def test_too_many_sheets_are_refused_with_the_scale_that_fits(tmp_path: Path) -> None:
    stand = stand_of(box(400_000, 5_500_000, 500_000, 5_600_000))
    match = r"scale 1 : 1.000: the survey is 100.0 km × 100.0 km and would take .* sheets .* at most 200 .* One sheet"
    with pytest.raises(SettingsError, match=match):
        write_sheet(stand, tmp_path / "sheet.pdf", SheetWish("A4", 1_000))
    assert not (tmp_path / "sheet.pdf").exists()


def test_the_sheet_says_what_a_map_must_say(tmp_path: Path) -> None:
    stand = with_settings(
        stand_example(), survey={"title": "Hollin Fell 2026"}, paper={"author": "J. Example"}
    )
    content = sheet(tmp_path, stand, SheetWish("A3", 5_000, printed_on="25 November 2026"))
    text = " ".join(words(content).split())
    for part in (
        "Hollin Fell 2026",
        "Basal area (m²/ha)",
        "EPSG:32630 (WGS 84 / UTM zone 30N)",
        "Measured on 2026-05-14",
        "14 plots in the estimates, of 15",
        "Author: J. Example",
        "Printed on 25 November 2026",
        "plotmap ",
        "lengths on the grid",
        "true north lies",
        "not a felling permit",
        "Local codes",
        "no plots: nothing known",
        "one plot: no error can be given",
        "499 200",
        "5 600 200",
    ):
        assert part in text, part


def test_nothing_is_printed_that_is_not_given(tmp_path: Path) -> None:
    text = words(sheet(tmp_path, stand_example()))
    assert "Author" not in text
    assert "Printed on" not in text


def test_the_scale_factor_is_said_where_it_matters(tmp_path: Path) -> None:
    far = box(833_000, 5_600_000, 834_000, 5_601_000)
    text = " ".join(words(sheet(tmp_path, stand_of(far))).split())
    # k = 0.9996 · (1 + (E − 500 000)² / (2 · (0.9996 · R)²)), R = 6 381 km at 51° N (Snyder 1987, eq. 8-11)
    k = 0.9996 * (1 + 333_500**2 / (2 * (0.9996 * 6.381e6) ** 2))
    said = float(text.split("ellipsoid) are ")[1].split(" m on")[0].replace(" ", ""))
    assert said == pytest.approx(1000 * k, abs=0.05)
    near = " ".join(words(sheet(tmp_path, stand_of(KILOMETRE))).split())
    assert "ellipsoid" not in near


@pytest.mark.parametrize(("west_m", "side"), [(400_000, "east"), (600_000, "west")])
def test_true_north_lies_towards_the_central_meridian(tmp_path: Path, west_m: float, side: str) -> None:
    stand = stand_of(
        box(west_m, 5_600_000, west_m + 1000, 5_601_000)
    )  # geometry of meridians that meet at the pole
    text = " ".join(words(sheet(tmp_path, stand)).split())
    assert f"{side} of grid north" in text


def test_names_of_any_alphabet_stand_on_the_sheet_in_embedded_fonts(tmp_path: Path) -> None:
    names = ["Δάσος", "Лес", "Žďár"]
    squares = [box(500_000 + 1000 * i, 5_600_000, 501_000 + 1000 * i, 5_601_000) for i in range(3)]
    stand = with_settings(stand_of(*squares, names=names), survey={"title": "Лес Žďár Δάσος"})
    found = write_sheet(stand, tmp_path / "sheet.pdf", SheetWish("A3", 25_000))
    content = (tmp_path / "sheet.pdf").read_bytes()
    for name in names:
        assert words(content).count(name) == 2
    assert all(fonts(content).values())
    assert found.missing_letters == ""


def test_letters_that_no_font_has_are_told(tmp_path: Path) -> None:
    stand = with_settings(stand_of(KILOMETRE), survey={"title": "森 1"})
    assert write_sheet(stand, tmp_path / "sheet.pdf", AT_10_000).missing_letters == "森"


def test_a_font_of_the_settings_is_looked_for_in_the_survey_folder(tmp_path: Path) -> None:
    stand = with_settings(stand_of(KILOMETRE), paper={"font": "own.ttf"})
    with pytest.raises(SettingsError, match=r"own.ttf'?: cannot be read"):
        write_sheet(stand, tmp_path / "sheet.pdf", AT_10_000, tmp_path)


def test_the_same_survey_gives_the_same_bytes(tmp_path: Path) -> None:
    assert sheet(tmp_path, stand_example()) == sheet(tmp_path, stand_example())


@pytest.mark.parametrize("theme", list(SHEET_THEMES))
def test_every_theme_has_its_title_in_the_legend(tmp_path: Path, theme: str) -> None:
    titles = {"basal_area": "Basal area (m²/ha)", "stems": "Stems (1/ha)", "diameter": "Quadratic mean diameter (cm)",
              "error": "Sampling error (%)"}  # fmt: skip
    text = " ".join(words(sheet(tmp_path, stand_example(), SheetWish("A4", theme=theme))).split())
    assert text.count(titles[theme]) == 2


@pytest.mark.parametrize("orientation", ["portrait", "landscape"])
@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_the_words_of_the_fullest_sheet_stay_on_it_and_apart(
    tmp_path: Path, size: str, orientation: str
) -> None:
    stand = with_settings(
        stand_example(6),
        survey={
            "title": "A title that is far too long for one line of any paper that a desk printer takes in"
        },
        paper={"author": "A. Very-Long-Name of the Example Forest Office"},
        map={"breaks": {"basal_area_m2_per_ha": (5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0)}},
    )
    plots = stand.plots.copy()
    plots.loc[plots.index[:5], "state"] = ["measured", "empty", "measured", "unvisited", "lost"]
    plots.loc[plots.index[2], "set_aside"] = "outside all compartments"
    content = sheet(
        tmp_path,
        replace(stand, plots=plots),
        SheetWish(size, 2_500, orientation=orientation, printed_on="25 November 2026"),
    )
    assert n_pages(content) > 1
    width, height = size_mm(content)
    boxes = text_boxes_mm(content)
    assert all(left > 9.5 and right < width - 9 for left, _, right, _ in boxes)
    assert "plotmap " in words(content)
    for number, (left, bottom, right, top) in enumerate(boxes):
        for other in boxes[number + 1 :]:
            across = min(right, other[2]) - max(left, other[0])
            up = min(top, other[3]) - max(bottom, other[1])
            assert across < 0.3 or up < 0.3, (boxes[number], other)
    assert min(bottom for _, bottom, *_ in boxes) > 9
    assert all(top < height - 9 for *_, top in boxes)


def test_a_survey_without_plots_is_drawn_as_unknown(tmp_path: Path) -> None:
    stand = stand_example()
    table = stand.compartments.copy()
    table[["basal_area_m2_per_ha", "sampling_error_pct"]] = np.nan
    table["status"] = "no plots"
    empty = replace(stand, compartments=table, plots=stand.plots.head(0))
    content = sheet(tmp_path, empty, SheetWish("A4"))
    text = words(content)
    assert "no plots: nothing known" in text
    assert "Sample plots" not in text
    assert "Date of measurement not recorded" in text
    assert compartments(content) == []


def test_islands_and_holes_are_drawn(tmp_path: Path) -> None:
    hole = shapely.difference(KILOMETRE, box(499_800, 5_600_300, 500_200, 5_600_700))
    shape = MultiPolygon([hole, box(500_700, 5_600_000, 500_900, 5_600_200)])
    (drawn,) = compartments(sheet(tmp_path, stand_of(shape)))
    assert drawn.width_mm == pytest.approx(140, abs=0.1)
    assert drawn.height_mm == pytest.approx(100, abs=0.1)


def test_plots_off_the_map_are_counted(tmp_path: Path) -> None:
    stand = stand_of(KILOMETRE, plots=[Point(500_000, 5_600_500), Point(900_000, 5_600_500), Point()])
    text = " ".join(words(sheet(tmp_path, stand)).split())
    assert "2 plots have no position, or one off the map." in text


def test_names_that_find_no_room_are_counted(tmp_path: Path) -> None:
    stand = stand_of(KILOMETRE, box(500_600, 5_600_000, 500_610, 5_600_010))
    text = " ".join(words(sheet(tmp_path, stand)).split())
    assert "1 compartment is too small at this scale for its name." in text


def test_words_come_in_the_language_of_the_survey(tmp_path: Path) -> None:
    stand = stand_example()
    labels = stand.settings.labels.model_copy(
        update={"language": "de", "own": {"sheet.index": "Blattschnitt"}}
    )
    text = words(sheet(tmp_path, replace(stand, settings=stand.settings.model_copy(update={"labels": labels})),
                       SheetWish("A4", 1_000)))  # fmt: skip
    assert "keine Probefläche: nichts bekannt" in text
    assert "Blattschnitt" in text


@pytest.mark.slow
def test_2000_compartments_and_20_000_plots_take_seconds(tmp_path: Path) -> None:
    stand = larger_stand(45, 10)
    assert (len(stand.compartments), len(stand.plots)) == (2025, 20_250)
    start = time.perf_counter()
    content = sheet(tmp_path, stand, SheetWish("A1"))
    assert time.perf_counter() - start < 30
    assert len(content) < 5_000_000
    assert has_colour(content, compartments(content)[0].colour)


@pytest.mark.parametrize(
    ("wish", "match"),
    [
        (SheetWish("A9"), "paper size 'A9': not known"),
        (SheetWish("A4", orientation="round"), "orientation 'round': not known"),
        (SheetWish("A4", theme="height"), "theme 'height': not known. Give one of basal_area, stems"),
        (SheetWish("A4", 99), "scale 1 : 99: a sheet can have 1 : 100 to 1 : 10,000,000"),
        (SheetWish("A4", 1.1e7), "a sheet can have"),
    ],
)
def test_a_wish_that_no_sheet_can_meet_is_refused(tmp_path: Path, wish: SheetWish, match: str) -> None:
    with pytest.raises(SettingsError, match=match):
        write_sheet(stand_example(), tmp_path / "sheet.pdf", wish)


@pytest.mark.parametrize(
    ("name", "content", "match"),
    [
        ("sheet.png", None, "the name must end in .pdf"),
        ("trees.pdf", b"%PDF-1.4 of someone else", "plotmap did not write it"),
        ("notes.pdf", b"(plotmap notes", "plotmap did not write it"),
        ("nowhere/sheet.pdf", None, "its folder is not there"),
        (".", None, "this is a folder"),
    ],
)
def test_files_of_others_are_not_replaced(
    tmp_path: Path, name: str, content: bytes | None, match: str
) -> None:
    if content is not None:
        (tmp_path / name).write_bytes(content)
    with pytest.raises(OutputError, match=match):
        write_sheet(stand_example(), tmp_path / name, SheetWish("A4"))
    if content is not None:
        assert (tmp_path / name).read_bytes() == content


def test_an_earlier_sheet_is_replaced(tmp_path: Path) -> None:
    first = sheet(tmp_path, stand_of(KILOMETRE))
    assert sheet(tmp_path, stand_of(Polygon(KILOMETRE.exterior.coords[:3]))) != first
