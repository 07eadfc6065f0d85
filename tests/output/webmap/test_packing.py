from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from plotmap.output.webmap.packing import FEWEST, packed, unpacked

RNG = np.random.default_rng(3)
COLUMNS: dict[str, list[Any]] = {
    "short": [1, 2.5, None],
    "counts": [int(value) for value in RNG.integers(0, 5000, 100)],
    "rising": [1_000_000 + 3 * row for row in range(100)],
    "below zero": [int(value) for value in RNG.integers(-300, 300, 100)],
    "decimals": [round(float(value), 1) for value in RNG.uniform(0, 90, 100)],
    "missing": [None if row % 3 else row / 4 for row in range(100)],
    "one odd": [12.5] * 150 + [49.99999999, None],
    "many odd": [float(value) for value in RNG.uniform(0, 1, 100)],
    "large": [2**47 + row for row in range(100)],
    "too large": [2**60] * 100,
    "all missing": [None] * 100,
    "texts": ["<img>", "ä", None] * 40,
    "zero": [0] * 100,
    "empty": [],
}


@pytest.mark.parametrize("name", COLUMNS)
def test_a_list_comes_back_as_it_was(name: str) -> None:
    assert unpacked(packed({"a": {name: COLUMNS[name]}})) == {"a": {name: COLUMNS[name]}}


def test_columns_in_lists_of_dicts_come_back_too() -> None:
    content = {"themes": [{"classes": [row % 7 for row in range(FEWEST)]}, {"classes": [1, 2]}], "on": True}
    assert unpacked(packed(content)) == content


@pytest.mark.parametrize("values", [[], [5], [0, -1, 70_000, -70_000], [2**40, -(2**40)]])
def test_an_array_comes_back_as_it_was(values: list[int]) -> None:
    assert unpacked(packed({"steps": np.array(values, dtype=np.int64)})) == {"steps": values}


def test_the_same_content_gives_the_same_text() -> None:
    assert packed(COLUMNS) == packed({**COLUMNS})


def test_columns_of_numbers_take_less_room_than_their_text() -> None:
    # 1 000 whole numbers below 256 at random hold 1 000 bytes; base64 makes 4 of 3: 1 333, and some for the head
    values = [int(value) for value in RNG.integers(0, 256, 1000)]
    assert len(packed({"a": values})) < 1333 + 350


@pytest.mark.parametrize("wrong", [float("nan"), float("inf")])
@pytest.mark.parametrize("many", [1, FEWEST])
def test_a_number_that_is_not_finite_is_refused(wrong: float, many: int) -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        packed({"a": [wrong] * many})
