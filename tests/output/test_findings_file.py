"""Findings go into a file of their own and never replace anything else."""

from __future__ import annotations

from pathlib import Path

import pytest

from plotmap.errors import OutputError
from plotmap.model.field_tables import FIELD_TABLES
from plotmap.model.findings import FINDING_SCHEMA, Findings, finding
from plotmap.output import check_findings_file, save_findings

_TWO = Findings.join([finding("row-blank", "trees.csv", text) for text in ("one", "two")])


def test_findings_are_written_and_earlier_findings_replaced(tmp_path: Path) -> None:
    path = tmp_path / "found.csv"
    save_findings(_TWO, path)
    save_findings(finding("row-blank", "trees.csv", "three"), path)
    lines = path.read_text(encoding="utf-8").splitlines()
    assert lines[0].split(",") == list(FINDING_SCHEMA)
    assert len(lines) == 2
    assert "three" in lines[1]


@pytest.mark.parametrize("content", ["plot,tree\nP1,1\n", "code,severity\n", "anything"])
def test_a_file_that_holds_no_findings_is_left_as_it_is(tmp_path: Path, content: str) -> None:
    path = tmp_path / "mine.csv"
    path.write_text(content, encoding="utf-8")
    with pytest.raises(OutputError, match="holds no findings, so it is not replaced"):
        save_findings(_TWO, path)
    assert path.read_text(encoding="utf-8") == content


@pytest.mark.parametrize("name", ["survey.toml", "plots.xlsx", "findings", "findings.csv.bak"])
def test_only_names_that_end_in_csv_are_taken(tmp_path: Path, name: str) -> None:
    with pytest.raises(OutputError, match=r"the name must end in \.csv"):
        save_findings(_TWO, tmp_path / name)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("name", [table.name for table in FIELD_TABLES])
def test_a_table_s_name_is_refused_in_a_survey_folder_and_nowhere_else(tmp_path: Path, name: str) -> None:
    path = tmp_path / f"{name.upper()}.csv"
    check_findings_file(path)
    (tmp_path / "survey.toml").write_text("", encoding="utf-8")
    with pytest.raises(OutputError, match="field data are never overwritten"):
        check_findings_file(path)
    check_findings_file(tmp_path / "findings.csv")
