from __future__ import annotations

import base64
import hashlib
import json
import re
from pathlib import Path

import pytest

from plotmap.errors import OutputError
from plotmap.output.webmap import embedding
from plotmap.output.webmap.embedding import POLICY_MARK, embed, packaged_text

HEAD = f'<meta http-equiv="Content-Security-Policy" content="{POLICY_MARK}">'


def digest(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def test_scripts_and_styles_stand_in_the_page_and_in_its_policy() -> None:
    page = embed(
        f'{HEAD}<link rel="stylesheet" href="assets/leaflet.css"/><script src="page/data.js"></script>'
    )
    policy, style, script = re.findall(
        r'content="([^"]*)"|<style>(.*?)</style>|<script>(.*?)</script>', page, re.DOTALL
    )
    assert "plotmap.unpack" in script[2]
    assert digest(script[2]) in policy[0]
    assert digest(style[1]) in policy[0]
    assert policy[0].startswith("default-src 'none'; script-src 'sha256-")
    assert "unsafe" not in policy[0]


def test_images_of_a_style_sheet_become_data_addresses() -> None:
    page = embed(f'{HEAD}<link rel="stylesheet" href="assets/leaflet.css"/>')
    addresses = re.findall(r"url\(([^)]*)\)", page)
    assert sum(address.startswith('"data:image/png;base64,') for address in addresses) == 3
    assert all(address.startswith(('"data:', "#")) for address in addresses)


def test_source_maps_are_taken_out() -> None:
    assert "sourceMappingURL" in packaged_text("assets/leaflet.js")
    assert "sourceMappingURL" not in embed(f'{HEAD}<script src="assets/leaflet.js"></script>')


@pytest.mark.parametrize(
    "outside",
    [
        '<script src="https://example.org/a.js"></script>',
        '<script src="assets/other.js"></script>',
        '<script src="page/../writer.py"></script>',
        '<link rel="stylesheet" href="//example.org/a.css"/>',
    ],
)
def test_a_script_or_style_without_a_packaged_file_stops_the_map(outside: str) -> None:
    with pytest.raises(OutputError, match="is not in the package, and nothing is fetched from outside"):
        embed(HEAD + outside)


@pytest.mark.parametrize(
    "outside",
    [
        '<img src="tile.png">',
        '<a href="https://example.org">x</a>',
        '<script async src="https://example.org/a.js"></script>',
        '<link href="https://example.org/a.css" rel="stylesheet">',
        '<iframe src="page.html"></iframe>',
        '<form action="https://example.org"></form>',
    ],
)
def test_any_other_reference_stops_the_map(outside: str) -> None:
    with pytest.raises(OutputError, match="leads to another file"):
        embed(HEAD + outside)


@pytest.mark.parametrize("style", ["a { background: url(x.png) }", "@import 'x.css';"])
def test_a_style_that_leads_outside_stops_the_map(style: str) -> None:
    with pytest.raises(OutputError, match="a style sheet leads to another file"):
        embed(f"{HEAD}<style>{style}</style>")


@pytest.mark.parametrize("inline", ['<p onclick="x()">', '<p style="color: red">'])
def test_what_the_policy_would_block_stops_the_map(inline: str) -> None:
    with pytest.raises(OutputError, match="would be blocked by the page's own policy"):
        embed(HEAD + inline)


def test_a_page_without_a_place_for_its_policy_is_refused() -> None:
    with pytest.raises(OutputError, match="the template has no"):
        embed("<p>")


def test_the_end_of_a_script_inside_a_script_is_escaped(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "page").mkdir()
    (tmp_path / "page" / "odd.js").write_text('x = "</script><!--";\n', "utf-8")
    monkeypatch.setattr(embedding, "_HERE", tmp_path)
    assert r'x = "\x3C/script>\x3C!--";' in embed(f'{HEAD}<script src="page/odd.js"></script>')


@pytest.mark.parametrize(
    ("content", "found"), [(b"changed", "d67e2e944994496c8d8ec76eed0cf9f09679448d584b532bebf941852a37f5ed")]
)
def test_a_changed_library_stops_the_map(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, content: bytes, found: str
) -> None:
    # sha256 of b"changed" as `printf changed | sha256sum` prints it
    (tmp_path / "assets").mkdir()
    (tmp_path / "assets" / "leaflet.js").write_bytes(content)
    entry = {"file": "leaflet.js", "sha256": "0" * 64}
    (tmp_path / "assets" / "manifest.json").write_text(json.dumps({"files": [entry]}), "utf-8")
    monkeypatch.setattr(embedding, "_HERE", tmp_path)
    with pytest.raises(
        OutputError, match=f"sha256 of assets/leaflet.js is {found}, but the manifest says 000"
    ):
        packaged_text("assets/leaflet.js")


def test_every_packaged_file_of_others_is_listed_with_its_licence() -> None:
    folder = Path(embedding.__file__).parent / "assets"
    listed = {
        entry["file"]: entry for entry in json.loads((folder / "manifest.json").read_text("utf-8"))["files"]
    }
    there = {file.relative_to(folder).as_posix() for file in folder.rglob("*") if file.is_file()}
    assert there - {"manifest.json", ".gitattributes"} == set(listed)
    for name, entry in listed.items():
        assert hashlib.sha256((folder / name).read_bytes()).hexdigest() == entry["sha256"]
        assert entry["licence"] == "BSD-2-Clause"
