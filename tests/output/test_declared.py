"""The declared frames: kinds, order and missing values follow the declaration (no outside source needed)."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import polars as pl
import pytest

from plotmap.errors import SchemaError
from plotmap.model.columns import Column, Kind, Table
from plotmap.model.result_tables import RESULT_TABLES
from plotmap.output.declared import declared_frame, stand_frames
from tests.stand_example import stand_example

TABLE = Table(
    "example",
    "Example",
    "an example",
    (
        Column("id", Kind.IDENTIFIER, "Id", "Identifier."),
        Column("dbh_cm", Kind.NUMBER, "Diameter", "Diameter.", unit="cm"),
        Column("n", Kind.COUNT, "Count", "Count."),
        Column("day", Kind.DATE, "Day", "Day."),
    ),
)
TYPES = [pl.String, pl.Float64, pl.Int64, pl.Date]


def test_a_pandas_frame_keeps_identifiers_as_text_and_turns_nan_into_missing() -> None:
    frame = pd.DataFrame(
        {
            "n": [1.0, np.nan],
            "day": ["2026-05-14", None],
            "more": [0, 0],
            "dbh_cm": [np.nan, 30],
            "id": ["001", "NA"],
        }
    )
    made = declared_frame(TABLE, frame)
    assert made.schema == dict(zip(TABLE.names, TYPES, strict=True))
    assert made.rows() == [("001", None, 1, date(2026, 5, 14)), ("NA", 30.0, None, None)]


def test_a_polars_frame_gives_the_same_as_pandas() -> None:
    cells = {
        "id": ["10E2", None],
        "dbh_cm": [float("nan"), 1.5],
        "n": [None, 3],
        "day": [None, date(2026, 1, 2)],
    }
    assert declared_frame(TABLE, pl.DataFrame(cells)).equals(declared_frame(TABLE, pd.DataFrame(cells)))


def test_columns_without_any_value_keep_their_kind() -> None:
    made = declared_frame(TABLE, pd.DataFrame({name: [None, None] for name in TABLE.names}))
    assert made.dtypes == TYPES
    assert made.null_count().row(0) == (2, 2, 2, 2)


def test_dates_of_pandas_become_dates() -> None:
    frame = pd.DataFrame({"id": ["1"], "dbh_cm": [1.0], "n": [1], "day": pd.to_datetime(["2026-05-14"])})
    assert declared_frame(TABLE, frame)["day"].to_list() == [date(2026, 5, 14)]


def test_a_lacking_column_is_named() -> None:
    with pytest.raises(SchemaError, match="example: the columns n, day are not there"):
        declared_frame(TABLE, pl.DataFrame({"id": ["1"], "dbh_cm": [1.0]}))


@pytest.mark.parametrize("cells", [{"day": ["14 May"]}, {"dbh_cm": ["thick"]}])
@pytest.mark.parametrize("kind", [pl.DataFrame, pd.DataFrame])
def test_what_is_not_of_the_declared_kind_is_refused(cells, kind) -> None:
    row = {"id": ["1"], "dbh_cm": [1.0], "n": [1], "day": ["2026-05-14"]}
    with pytest.raises(SchemaError, match="holds what is not of its kind"):
        declared_frame(TABLE, kind(row | cells))


def test_every_result_table_of_a_stand_comes_in_the_declared_order() -> None:
    frames = stand_frames(stand_example())
    assert {name: frame.columns for name, frame in frames.items()} == {t.name: t.names for t in RESULT_TABLES}
    assert list(frames) == [table.name for table in RESULT_TABLES]
