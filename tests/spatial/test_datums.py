"""Changes of datum: names and accuracies are those of the EPSG register, as PROJ's database carries it."""

import numpy as np
import pyproj
import pytest

from plotmap.spatial import BallparkTransformError, datum_change

WGS84, OSGB = pyproj.CRS(4326), pyproj.CRS(27700)
TOWGS84 = "+proj=utm +zone=44 +ellps=evrst30 +towgs84=295,736,257 +units=m"


def test_the_operation_is_named_with_its_stated_accuracy() -> None:
    """Kalianpur 1975 to WGS 84 (1), EPSG:1156: three translations, accuracy 22 m."""
    change = datum_change([80.0], [22.0], WGS84, pyproj.CRS(24344))
    assert change is not None
    assert change.operations == ("Inverse of Kalianpur 1975 to WGS 84 (1)",)
    assert (change.accuracy_m, change.better, change.grids) == (22.0, "", ())


def test_both_directions_move_places_equally_far() -> None:
    there = datum_change([80.0], [22.0], WGS84, pyproj.CRS(24344))
    x, y = pyproj.Transformer.from_crs(4326, 24344, always_xy=True).transform(80.0, 22.0)
    back = datum_change([x], [y], pyproj.CRS(24344), WGS84)
    assert there is not None
    assert back is not None
    assert there.shift_m == pytest.approx(back.shift_m, rel=0.01)
    assert back.operations == ("Kalianpur 1975 to WGS 84 (1)",)


@pytest.mark.parametrize("code", [32630, 25830, 2154, 3006])
def test_one_datum_and_realisations_alike_are_no_change(code: int) -> None:
    """ETRS89, RGF93 and SWEREF99 to WGS 84: translations of 0, 0, 0, accuracy 1 m (the first two EPSG:1149, 1671)."""
    assert datum_change([2.0], [50.0], WGS84, pyproj.CRS(code)) is None


def test_a_null_shift_that_is_known_badly_is_told() -> None:
    """NAD83 to WGS 84 (1), EPSG:1188: translations of 0, 0, 0, accuracy 4 m."""
    change = datum_change([-87.0], [32.0], WGS84, pyproj.CRS(26916))
    assert change is not None
    assert (change.operations, change.accuracy_m) == (("Inverse of NAD83 to WGS 84 (1)",), 4.0)
    assert change.shift_m == pytest.approx(0, abs=1e-6)


def test_a_shift_that_the_system_itself_states_has_unknown_accuracy() -> None:
    change = datum_change([80.0], [22.0], WGS84, pyproj.CRS(TOWGS84))
    assert change is not None
    assert change.accuracy_m is None
    assert change.shift_m == pytest.approx(180, abs=20)  # nearly that of EPSG:1156, 295 736 257 too


def test_other_prime_meridians_leave_the_size_of_the_shift_open() -> None:
    change = datum_change([3.0], [47.0], WGS84, pyproj.CRS(27572))  # from Paris
    assert change is not None
    assert change.operations == ("Inverse of NTF to WGS 84 (1) + Inverse of NTF (Paris) to NTF (1)",)
    assert change.shift_m is None


def test_places_that_differ_name_every_operation_and_the_worst_accuracy() -> None:
    """ED50 to WGS 84 (EPSG:1133 ff.): one set of translations for each part of Europe."""
    ed50 = pyproj.CRS(23030)
    one = datum_change([-5.0], [37.0], WGS84, ed50)
    wide = datum_change([-5.0, -2.0], [37.0, 58.0], WGS84, ed50)
    assert one is not None
    assert wide is not None
    assert len(one.operations) == 1
    assert len(wide.operations) > 1
    assert (wide.accuracy_m or 0) >= (one.accuracy_m or 0)


def test_without_places_there_is_no_change() -> None:
    assert datum_change([], [], WGS84, OSGB) is None
    assert datum_change([np.nan], [50.0], WGS84, OSGB) is None


def test_missing_places_are_passed_over() -> None:
    assert datum_change([np.nan, -2.0], [50.0, 54.0], WGS84, OSGB) == datum_change(
        [-2.0], [54.0], WGS84, OSGB
    )


def test_ballpark_is_refused() -> None:
    with pytest.raises(BallparkTransformError, match="EPSG:4243"):
        datum_change([500_000.0], [2_500_000.0], pyproj.CRS(24344), pyproj.CRS(4243))
