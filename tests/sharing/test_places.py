"""Names and places of shared plots: fixed, in their compartments, and without a trace of the true ones."""

from __future__ import annotations

from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
from scipy import stats
from shapely.geometry import MultiPolygon, Point, Polygon, box

from plotmap.sharing.places import KEEP_OFF_M, key_of, new_names, new_places

KEY = bytes(range(32))
NOWHERE = np.empty((0, 2))
SQUARE = box(500_000, 5_600_000, 500_200, 5_600_200)


def _areas(shape: object, n: int) -> np.ndarray:
    areas = np.empty(n, dtype=object)
    areas[:] = [shape] * n
    return areas


def _names(n: int) -> list[str]:
    return [f"{number:04d}" for number in range(n)]


def _plots(names: list[str], east: float = 500_000.0) -> gpd.GeoDataFrame:
    points = [Point(east + 10 * number, 5_600_000) for number in range(len(names))]
    return gpd.GeoDataFrame({"plot": names}, geometry=points, crs="EPSG:32630")


def test_places_are_the_same_on_every_run_and_in_any_order() -> None:
    names = _names(50)
    first = new_places(names, _areas(SQUARE, 50), KEY, NOWHERE)
    again = new_places(names[::-1], _areas(SQUARE, 50), KEY, NOWHERE)[::-1]
    np.testing.assert_array_equal(first, again)


@pytest.mark.parametrize("name", ["north", "Zoë 1", "0001"])
def test_the_place_of_a_plot_does_not_change_with_the_others(name: str) -> None:
    alone = new_places([name], _areas(SQUARE, 1), KEY, NOWHERE)
    beside = new_places([name, "another"], _areas(SQUARE, 2), KEY, NOWHERE)
    np.testing.assert_array_equal(alone[0], beside[0])


def test_another_key_gives_other_places_and_names() -> None:
    names = _names(40)
    one, other = (new_places(names, _areas(SQUARE, 40), key, NOWHERE) for key in (KEY, KEY[::-1]))
    assert (np.hypot(*(one - other).T) > 1).all()
    assert new_names(names, KEY) != new_names(names, KEY[::-1])


def test_the_key_is_that_of_the_plots_or_of_the_phrase() -> None:
    plots = _plots(_names(5))
    assert key_of(plots, "") == key_of(plots.iloc[::-1], "")
    moved, more = _plots(_names(5), 500_001.0), _plots(_names(6))
    assert len({key_of(layer, "") for layer in (plots, moved, more)}) == 3
    assert len({key_of(layer, "a phrase") for layer in (plots, moved, more)}) == 1
    assert key_of(plots, "a phrase") != key_of(plots, "another")


def test_places_fill_the_compartment_evenly() -> None:
    """Kolmogorov-Smirnov against the uniform distribution (scipy), and no correlation with the order of names."""
    n = 4000
    at = (new_places(_names(n), _areas(SQUARE, n), KEY, NOWHERE) - [500_000, 5_600_000]) / 200
    for axis in (0, 1):
        assert stats.kstest(at[:, axis], "uniform").pvalue > 0.001
        assert abs(np.corrcoef(at[:, axis], np.arange(n))[0, 1]) < 0.06
    assert abs(np.corrcoef(at[:, 0], at[:, 1])[0, 1]) < 0.06


def test_a_grid_cannot_be_found_again_from_the_places() -> None:
    """The phase of a grid of 50 m, of 4 000 plots: no harmonic stands out (Rayleigh test, Mardia & Jupp 2000)."""
    n = 4000
    at = new_places(_names(n), _areas(SQUARE, n), KEY, NOWHERE)
    phase = np.exp(2j * np.pi * at / 50)
    for axis in (0, 1):
        assert np.exp(-n * np.abs(phase[:, axis].mean()) ** 2) > 0.001


def test_places_lie_inside_odd_outlines() -> None:
    ring = Point(500_000, 5_600_000).buffer(100).difference(Point(500_000, 5_600_000).buffer(95))
    parts = MultiPolygon([box(0, 0, 1, 1), box(500, 500, 501, 501)])
    needle = Polygon([(0, 0), (1000, 1000), (1000, 1000.01)])
    for shape in (ring, parts, needle):
        at = new_places(_names(60), _areas(shape, 60), KEY, NOWHERE)
        assert all(shape.distance(Point(place)) < 1e-6 for place in at)


def test_without_an_outline_there_is_no_place() -> None:
    areas = np.array([None, Polygon(), SQUARE], dtype=object)
    at = new_places(["a", "b", "c"], areas, KEY, NOWHERE)
    assert np.isnan(at[:2]).all()
    assert np.isfinite(at[2]).all()


def test_no_place_comes_near_a_true_one() -> None:
    """Drawn without them, places would fall on true ones: the draw is repeated, and only there."""
    n = 500
    free = new_places(_names(n), _areas(SQUARE, n), KEY, NOWHERE)
    kept = new_places(_names(n), _areas(SQUARE, n), KEY, free[:5])
    changed = np.flatnonzero((free != kept).any(axis=1)).tolist()
    assert changed[:5] == [0, 1, 2, 3, 4]
    away = np.hypot(*(kept[:, None] - free[None, :5]).transpose(2, 0, 1))
    assert (away > KEEP_OFF_M).all()


def test_new_names_are_none_of_the_old_ones() -> None:
    old = [f"s{number:03d}" for number in range(1, 30)]
    new = new_names(old, KEY)
    assert len(set(new)) == len(old)
    assert set(new).isdisjoint(old)
    assert min(new) == "t001"


def test_new_names_do_not_follow_the_old_order() -> None:
    numbers = [int(name[1:]) for name in new_names(_names(1000), KEY)]
    assert sorted(numbers) == list(range(1, 1001))
    assert abs(stats.spearmanr(numbers, range(1000)).statistic) < 0.12


def test_shared_plots_lie_in_their_compartments_and_not_where_they_were(tmp_path: Path) -> None:
    from plotmap.workflow import share  # noqa: PLC0415
    from tests.sharing.hostile_survey import PLOTS, hostile_survey  # noqa: PLC0415

    folder = share(hostile_survey(tmp_path / "wood"), "managers").folder
    plots = gpd.read_file(folder / "stand.gpkg", layer="plots")
    homes = gpd.read_file(folder / "stand.gpkg", layer="compartments").set_index("compartment").geometry
    assert plots["compartment"].value_counts().to_dict() == {"A": 3, "B": 3, "C": 3}
    assert all(
        homes[home].contains(at) for home, at in zip(plots["compartment"], plots.geometry, strict=True)
    )
    assert set(plots["plot"]).isdisjoint(PLOTS)
