"""What Python packs is what the page unpacks."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from plotmap.output.webmap.packing import packed
from tests.end_to_end.conftest import Visits
from tests.end_to_end.map_page import opened
from tests.output.webmap.test_packing import COLUMNS
from tests.stand_example import stand_example

pytestmark = pytest.mark.browser
UNPACK = """async (text) => {
  document.getElementById("survey-data").textContent = text;
  return plotmap.unpack();
}"""


def test_every_kind_of_column_comes_out_as_it_was(visits: Visits, tmp_path: Path) -> None:
    page = opened(visits, stand_example(), tmp_path).page
    table = {
        name: values for name, values in COLUMNS.items() if name != "too large"
    }  # the page has none of these
    content: dict[str, Any] = {"table": table, "themes": [{"classes": [row % 7 for row in range(50)]}]}
    assert page.evaluate(UNPACK, packed(content)) == content


@pytest.mark.parametrize("values", [[], [5], [0, -1, 70_000, -70_000], [2**40, -(2**40), 2**40]])
def test_arrays_come_out_as_arrays_of_numbers(visits: Visits, tmp_path: Path, values: list[int]) -> None:
    page = opened(visits, stand_example(), tmp_path).page
    text = packed({"steps": np.array(values, dtype=np.int64)})
    found = page.evaluate(f"async (text) => [...(await ({UNPACK})(text)).steps]", text)
    assert found == values
