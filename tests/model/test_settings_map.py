from __future__ import annotations

from typing import Any

import pytest
from pydantic import ValidationError

from plotmap.errors import SettingsError
from plotmap.fielddata.settings_file import settings_from
from plotmap.model.settings_map import MapLayerSetting, MapSection

PLOTS = {"design": "circle", "radius_m": 12.62}
TILES = "https://tiles.example.org/{z}/{x}/{y}.png"


def section(**keys: Any) -> MapSection:
    """Return [map] with these keys."""
    return MapSection.model_validate(keys)


def test_nothing_set_asks_no_host_and_hatches_from_50_per_cent() -> None:
    chosen = section()
    assert chosen.large_error_pct == 50
    assert (chosen.background, chosen.background_host, chosen.layers, chosen.breaks) == ("", "", (), {})


@pytest.mark.parametrize(
    ("breaks", "said"),
    [
        ({"height_m": [1, 2]}, "height_m is no theme of the map"),
        ({"dg_cm": [10, 10]}, "dg_cm has 10 after 10, but must rise"),
        ({"dg_cm": [-1, 10]}, "dg_cm begins at -1"),
        ({"dg_cm": [float("inf")]}, "finite number"),
        ({"dg_cm": []}, "at least 1 item"),
        ({"dg_cm": list(range(9))}, "at most 8 items"),
    ],
)
def test_breaks_that_make_no_classes_are_refused(breaks: dict[str, list[float]], said: str) -> None:
    with pytest.raises(ValidationError, match=said):
        section(breaks=breaks)


def test_one_to_eight_rising_breaks_are_taken() -> None:
    assert section(breaks={"dg_cm": [0]}).breaks == {"dg_cm": (0,)}
    assert len(section(breaks={"stems_per_ha": list(range(8))}).breaks["stems_per_ha"]) == 8


@pytest.mark.parametrize(
    ("address", "host"),
    [
        (TILES, "https://tiles.example.org"),
        ("http://localhost:8080/{z}/{y}/{x}?key=a_b-c", "http://localhost:8080"),
    ],
)
def test_a_background_says_the_one_host_that_is_asked(address: str, host: str) -> None:
    assert section(background=address, background_credit="Invented maps").background_host == host


@pytest.mark.parametrize(
    "address",
    [
        "tiles.example.org/{z}/{x}/{y}.png",
        "ftp://tiles.example.org/{z}/{x}/{y}.png",
        "https://{s}.example.org/{z}/{x}/{y}.png",
        "https://*.example.org/{z}/{x}/{y}.png",
        "https://user@tiles.example.org/{z}/{x}/{y}.png",
        "https://tiles.example.org/{z}/{x}.png",
        "https://tiles.example.org/{z}/{x}/{y}/{s}.png",
        "https://tiles.example.org/{z}/{x}/{y}/{x}.png",
        'https://tiles.example.org/{z}/{x}/{y}.png"; script-src *',
        "https://tiles.example.org; script-src */{z}/{x}/{y}",
        "https://tiles.example.org'/{z}/{x}/{y}",
        "https:///{z}/{x}/{y}",
        "javascript:alert(1)//{z}/{x}/{y}",
    ],
)
def test_any_other_address_of_a_background_is_refused(address: str) -> None:
    with pytest.raises(
        ValidationError, match=r"must (be the address of tiles of one host|have {z}, {x} and {y} once)"
    ):
        section(background=address, background_credit="Invented maps")


@pytest.mark.parametrize("credit", ["", "  "])
def test_a_background_needs_its_credit(credit: str) -> None:
    with pytest.raises(ValidationError, match="background needs background_credit"):
        section(background=TILES, background_credit=credit)


@pytest.mark.parametrize(("value", "said"), [(0, "0"), (1001, "1001")])
def test_the_limit_of_a_large_error_has_a_range(value: float, said: str) -> None:
    with pytest.raises(SettingsError, match=rf"\[map\] large_error_pct is {said}"):
        settings_from({"plots": PLOTS, "map": {"large_error_pct": value}})
    for edge in (0.1, 1000):
        assert settings_from({"plots": PLOTS, "map": {"large_error_pct": edge}}).map.large_error_pct == edge


def test_faults_of_layers_name_the_entry() -> None:
    layers = [{"file": "roads.gpkg"}, {"file": "streams.gpkg", "colour": "blue"}, {}]
    with pytest.raises(SettingsError) as caught:
        settings_from({"plots": PLOTS, "map": {"layers": layers}})
    assert "[map] the 2nd layer (streams.gpkg), colour is no setting. Allowed here: file, layer, name" in str(
        caught.value
    )
    assert "[map] the 3rd layer, file is missing" in str(caught.value)


def test_a_layer_is_called_by_its_name_else_its_layer_else_its_file() -> None:
    assert MapLayerSetting(file="a.gpkg", layer="b", name="Roads").title == "Roads"
    assert MapLayerSetting(file="a.gpkg", layer="b").title == "b"
    assert MapLayerSetting(file="a.gpkg", name=" ").title == "a.gpkg"
