"""Names of cells as spreadsheets give them: ECMA-376 part 1, 18.18.62 (A1 references)."""

from __future__ import annotations

import pytest
from openpyxl.utils import get_column_letter

from plotmap.fielddata.cell_names import cell_name, column_letters, listed


@pytest.mark.parametrize("column", [0, 1, 25, 26, 51, 52, 700, 701, 702, 16_383])
def test_columns_have_the_letters_that_openpyxl_gives_them(column: int) -> None:
    assert column_letters(column) == get_column_letter(column + 1)


def test_a_cell_is_column_and_row() -> None:
    assert cell_name(1, 7) == "B7"


@pytest.mark.parametrize(
    ("count", "says"), [(1, "A1"), (6, "A1, A2, A3, A4, A5, A6"), (7, "A1, A2, A3, A4, A5 and 2 more")]
)
def test_many_names_are_cut_short(count: int, says: str) -> None:
    assert listed([cell_name(0, row) for row in range(1, count + 1)]) == says
