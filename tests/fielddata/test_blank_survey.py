"""An empty survey folder is one that reads, and no file of the user is ever overwritten."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pyogrio
import pytest

from plotmap.errors import OutputError
from plotmap.fielddata import read_survey
from plotmap.fielddata.blank_survey import lay_down
from plotmap.model.settings import Settings
from tests.folder_example import FILES, compartments_example, rows_of

LAID = [
    "survey.toml",
    *(
        f"{name}.csv"
        for name in ("plots", "trees", "tallies", "instruments", "species", "check_trees", "prescriptions")
    ),
]


def test_settings_and_every_table_but_the_polygons_are_laid_down(tmp_path: Path) -> None:
    files = lay_down(tmp_path / "new")
    assert [path.name for path in files] == LAID
    assert sorted(path.name for path in (tmp_path / "new").iterdir()) == sorted(LAID)


def test_a_workbook_stands_in_for_every_table_when_asked_for(tmp_path: Path) -> None:
    files = lay_down(tmp_path / "new", workbook=True)
    assert [path.name for path in files] == ["survey.toml", "survey.xlsx"]
    assert sorted(path.name for path in (tmp_path / "new").iterdir()) == ["survey.toml", "survey.xlsx"]
    lay_down(tmp_path / "other")
    toml = [(tmp_path / name / "survey.toml").read_bytes() for name in ("new", "other")]
    assert toml[0] == toml[1]


def test_with_compartments_it_reads_and_lacks_only_plots(tmp_path: Path) -> None:
    lay_down(tmp_path)
    pyogrio.write_dataframe(compartments_example(), tmp_path / "compartments.gpkg", layer="compartments")
    survey = read_survey(tmp_path)
    assert [(row["code"], row["file"]) for row in survey.findings.frame.to_dicts()] == [
        ("no-rows", "plots.csv")
    ]


def test_filled_in_it_has_no_finding(tmp_path: Path) -> None:
    lay_down(tmp_path)
    pyogrio.write_dataframe(compartments_example(), tmp_path / "compartments.gpkg", layer="compartments")
    for name in ("plots.csv", "trees.csv"):
        heading, *rows = rows_of(FILES[name])
        laid = (tmp_path / name).read_text().strip().split(",")
        filled = [dict(zip(heading, cells, strict=True)) for cells in rows]
        lines = [",".join(cells.get(column, "") for column in laid) for cells in filled]
        with (tmp_path / name).open("a") as file:
            file.writelines(f"{line}\n" for line in lines)
    assert not len(read_survey(tmp_path).findings.frame.filter(severity="error"))


def test_every_setting_is_named_with_the_value_used_without_it(tmp_path: Path) -> None:
    lay_down(tmp_path)
    text = (tmp_path / "survey.toml").read_text()
    told = tomllib.loads("\n".join(_uncommented(text)))
    defaults = Settings.model_validate({"plots": {"design": "circle", "radius_m": 12.62}}).model_dump(
        mode="json"
    )
    for section in ("survey", "plots", "stems", "classes", "estimates", "heights", "density", "check"):
        in_words = {
            "maxima",
            "edges_cm",
            "top_mean_cm",
            "area_m2",
            "nests",
            "baf_m2_per_ha",
            "width_m",
            "declination_deg",
        }
        assert all(key in text for key in in_words)
        shown = set(told[section]) | in_words
        assert set(defaults[section]) <= shown, section
    free = {("survey", "title"), ("survey", "crs"), ("classes", "width_cm"), ("classes", "bands")}
    for section, keys in told.items():
        for key, value in keys.items():
            if section != "columns" and (section, key) not in free:
                assert value == defaults[section][key], (section, key)
    Settings.model_validate(told)


def test_the_equation_shown_is_one_that_may_be_given(tmp_path: Path) -> None:
    lay_down(tmp_path)
    lines = (tmp_path / "survey.toml").read_text().splitlines()
    first = lines.index("#   [[volume.equations]]")
    shown = [
        line for line in lines[first : lines.index("", first)] if line.startswith("#   [") or " = " in line
    ]
    told = tomllib.loads("\n".join(line.removeprefix("#   ") for line in shown))
    assert set(told["volume"]["equations"][0]) >= {"species", "kind", "source", "min_dbh_cm", "bark"}
    Settings.model_validate({"plots": {"design": "circle", "radius_m": 12.62}, **told})


def _uncommented(text: str) -> list[str]:
    """Return the lines of a settings file with those that show a key taken as set."""
    lines = [re.sub(r'^# (?=[a-z_]+ = |"Sp|\[columns\.trees\])', "", line) for line in text.splitlines()]
    return [line for line in lines if not line.startswith("#")]


@pytest.mark.parametrize("workbook", [False, True])
@pytest.mark.parametrize(
    "name", ["survey.toml", "plots.csv", "Trees.xlsx", "species.parquet", "survey.xlsx", "Survey.XLSX"]
)
def test_nothing_is_overwritten_and_nothing_half_done(tmp_path: Path, name: str, *, workbook: bool) -> None:
    (tmp_path / name).write_text("mine")
    with pytest.raises(OutputError, match=f"{name} already there, and files are never overwritten"):
        lay_down(tmp_path, workbook=workbook)
    assert [path.name for path in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_text() == "mine"


def test_a_folder_with_compartments_alone_may_be_laid_down_in(tmp_path: Path) -> None:
    (tmp_path / "compartments.gpkg").write_bytes(b"")
    assert len(lay_down(tmp_path)) == len(LAID)


def test_a_file_in_the_place_of_the_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "new").write_text("")
    with pytest.raises(OutputError, match="this is a file, but a survey is a folder"):
        lay_down(tmp_path / "new")


def test_a_folder_whose_parent_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match=r"cannot be laid down: No such file or directory\. Name a folder"):
        lay_down(tmp_path / "a" / "b")


def test_what_was_written_before_the_disk_was_full_is_removed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = Path.write_bytes

    def full(self: Path, data: bytes) -> int:
        if self.name == "trees.csv":
            raise OSError(28, "No space left on device")
        return whole(self, data)

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(OutputError, match="No space left on device"):
        lay_down(tmp_path / "new")
    assert not (tmp_path / "new").exists()
