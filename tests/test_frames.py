"""Sums that do not depend on the machine."""

from __future__ import annotations

import math
import os
import subprocess
import sys
from pathlib import Path

import polars as pl
import pytest

from plotmap.frames import ordered_sums

_SCRIPT = """
import numpy as np, polars as pl
from plotmap.frames import ordered_sums
rng = np.random.default_rng(3)
frame = pl.DataFrame({"key": rng.integers(0, 50, 200_000), "value": rng.uniform(0, 1000, 200_000)})
print(ordered_sums(frame, ["key"], total=pl.col("value"))["total"].to_numpy().tobytes().hex())
"""


def test_sums_are_those_of_each_group_sorted_by_the_key() -> None:
    frame = pl.DataFrame({"a": ["y", "x", "y", None], "b": [1, 1, 1, 2], "v": [1.5, 2.0, 3.0, 4.0]})
    found = ordered_sums(frame, ["a", "b"], total=pl.col("v"), rows=pl.lit(1))
    assert found.rows() == [(None, 2, 4.0, 1.0), ("x", 1, 2.0, 1.0), ("y", 1, 4.5, 2.0)]


def test_a_missing_value_adds_nothing() -> None:
    frame = pl.DataFrame({"a": ["x", "x"], "v": [None, 3.0]})
    assert ordered_sums(frame, ["a"], total=pl.col("v")).rows() == [("x", 3.0)]


def test_no_rows_give_no_groups() -> None:
    found = ordered_sums(pl.DataFrame(schema={"a": pl.String, "v": pl.Float64}), ["a"], total=pl.col("v"))
    assert found.height == 0
    assert found.columns == ["a", "total"]


def test_rows_are_added_in_their_order() -> None:
    values = [1e16, 1.0, -1e16, 1.0] * 3
    frame = pl.DataFrame({"a": ["x"] * 12, "v": values})
    total = 0.0
    for value in values:
        total += value
    assert ordered_sums(frame, ["a"], total=pl.col("v"))["total"].item() == total != math.fsum(values)


@pytest.mark.parametrize("threads", ["1", "3", "8"])
def test_the_number_of_processors_changes_not_a_bit(threads: str) -> None:
    root = str(Path(__file__).parents[1])
    outputs = [
        subprocess.run(
            [sys.executable, "-c", _SCRIPT],
            env={**os.environ, "POLARS_MAX_THREADS": number, "PYTHONPATH": root},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for number in ("2", threads)
    ]
    assert len(outputs[0]) > 100
    assert outputs[0] == outputs[1]
