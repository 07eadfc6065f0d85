"""Settings of heights, density and volume: what is refused, on both sides of each bound."""

from __future__ import annotations

from typing import Any

import pytest

from plotmap.errors import SettingsError
from plotmap.fielddata.settings_file import settings_from
from plotmap.model.settings import Settings

_PLOTS = {"design": "circle", "radius_m": 12.62}
_OWN = {
    "species": "oak",
    "kind": "power",
    "a": 0.0001,
    "b": 1.9,
    "c": 0.9,
    "min_dbh_cm": 5,
    "max_dbh_cm": 60,
    "min_height_m": 5,
    "max_height_m": 30,
    "bark": "over",
    "volume_bark": "under",
    "source": "our own 40 trees",
}


def _settings(**sections: Any) -> Settings:
    return settings_from({"plots": _PLOTS, **sections}, "survey.toml")


def _without(key: str) -> dict[str, Any]:
    return {name: value for name, value in _OWN.items() if name != key}


@pytest.mark.parametrize(
    ("equation", "words"),
    [
        (_without("source"), r"the 1st equation \(oak\), source is missing, but is needed"),
        ({**_OWN, "source": "  "}, "source is blank"),
        (_without("b"), "kind = 'power' needs b"),
        ({**_OWN, "f": 0.5}, "kind = 'power' has no f: leave it out"),
        ({**_OWN, "kind": "form-factor"}, "kind = 'form-factor' needs f"),
        ({**_OWN, "kind": "d2h"}, "kind = 'd2h' has no c"),
        (_without("min_height_m"), "the equation uses the height: give min_height_m and max_height_m"),
        ({**_OWN, "min_dbh_cm": 60}, "min_dbh_cm is 60, but must be less than max_dbh_cm, 60"),
        ({**_OWN, "min_height_m": 31}, "min_height_m is 31, but must be less than max_height_m, 30"),
        ({**_OWN, "kind": "a * d"}, "kind is 'a \\* d', but must be 'power', 'log', 'd2h' or 'form-factor'"),
        ({**_OWN, "bark": "under"}, "takes diameters under bark, but \\[stems\\] bark is 'over'"),
    ],
)
def test_an_equation_that_is_not_complete_is_refused(equation: dict[str, Any], words: str) -> None:
    with pytest.raises(SettingsError, match=words):
        _settings(volume={"equations": [equation]})


def test_an_equation_without_the_height_needs_no_range_of_heights() -> None:
    bare = {key: value for key, value in _OWN.items() if key not in {"c", "min_height_m", "max_height_m"}}
    (equation,) = _settings(volume={"equations": [bare]}).volume.equations
    assert not equation.uses_height
    assert equation.text == "v = 0.0001 · d^1.9"


@pytest.mark.parametrize(
    ("own", "text"),
    [
        ({}, "v = 0.0001 · d^1.9 · h^0.9"),
        ({"kind": "log"}, "ln v = 0.0001 + 1.9 · ln d + 0.9 · ln h"),
        ({"kind": "d2h", "c": None}, "v = 0.0001 + 1.9 · d² · h"),
        ({"kind": "form-factor", "a": None, "b": None, "c": None, "f": 0.45}, "v = g · h · 0.45"),
    ],
)
def test_an_equation_is_printed_with_its_coefficients(own: dict[str, Any], text: str) -> None:
    (equation,) = _settings(volume={"equations": [{**_OWN, **own}]}).volume.equations
    assert equation.text == text


def test_two_entries_of_one_species_are_refused() -> None:
    with pytest.raises(SettingsError, match="equations name oak twice"):
        _settings(volume={"equations": [_OWN, _OWN]})
    entry = {"species": "oak", "index": 900}
    with pytest.raises(SettingsError, match="maxima name oak twice"):
        _settings(density={"maxima": [entry, entry]})


@pytest.mark.parametrize(("pairs", "allowed"), [(3, True), (2, False)])
def test_a_curve_may_ask_for_three_pairs_but_not_for_two(pairs: int, allowed: bool) -> None:  # noqa: FBT001
    if allowed:
        assert _settings(heights={"min_pairs": pairs}).heights.min_pairs == pairs
    else:
        with pytest.raises(SettingsError, match="min_pairs is 2, but must be greater than or equal to 3"):
            _settings(heights={"min_pairs": pairs})


def test_a_band_of_slenderness_that_is_empty_is_refused() -> None:
    assert _settings(heights={"min_slenderness": 79, "max_slenderness": 80}).heights.max_slenderness == 80
    with pytest.raises(
        SettingsError, match="min_slenderness is 80, but must be less than max_slenderness, 80"
    ):
        _settings(heights={"min_slenderness": 80, "max_slenderness": 80})
