"""The example of docs/planning.md runs and prints what the page says."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

PAGE = (Path(__file__).parents[2] / "docs" / "planning.md").read_text("utf-8")


def test_the_example_prints_what_the_page_says(capsys: pytest.CaptureFixture[str]) -> None:
    ((code, printed),) = re.findall(r"```python\n(.*?)```.*?```text\n(.*?)```", PAGE, re.DOTALL)
    exec(compile(code, "planning.md", "exec"), {})  # noqa: S102 - our own page
    assert capsys.readouterr().out == printed
    # By hand: 0 and 2 in period 1 (4 + 2), 1 and 3 in period 2 (8 + 3).
    assert "proven 17.0 17.0" in printed
