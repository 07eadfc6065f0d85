"""Fonts: those shipped, and the user's own."""

from __future__ import annotations

import hashlib
import json
import shutil
from pathlib import Path

import pytest

from plotmap.errors import OutputError, SettingsError
from plotmap.output.packaged import verified_bytes
from plotmap.output.paper import fonts as module
from plotmap.output.paper.fonts import load_fonts
from plotmap.output.paper.letters import plain, runs

ASSETS = Path(module.__file__).parent / "assets"


def test_every_shipped_font_is_in_the_manifest_with_its_hash() -> None:
    entries = json.loads((ASSETS / "manifest.json").read_text("utf-8"))["files"]
    listed = {entry["file"]: entry["sha256"] for entry in entries}
    found = {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest()
        for path in ASSETS.iterdir()
        if path.suffix in {".ttf", ".txt"}
    }
    assert found == listed


def test_the_licence_is_shipped_with_the_fonts() -> None:
    assert "Bitstream Vera Fonts Copyright" in (ASSETS / "dejavu-LICENSE.txt").read_text("utf-8")


def test_a_font_that_is_not_the_shipped_one_is_refused(tmp_path: Path) -> None:
    shutil.copytree(ASSETS, tmp_path / "assets")
    (tmp_path / "assets" / "DejaVuSans.ttf").write_bytes(b"other")
    with pytest.raises(
        OutputError, match=r"printed pages: sha256 of assets/DejaVuSans.ttf is .* but the manifest says"
    ):
        verified_bytes(tmp_path / "assets", "DejaVuSans.ttf", "printed pages", "refresh_fonts.py")


def test_an_own_font_comes_behind_the_shipped_ones(tmp_path: Path) -> None:
    own = tmp_path / "own.ttf"
    shutil.copy(ASSETS / "DejaVuSans-Bold.ttf", own)
    loaded = load_fonts(own)
    assert len(loaded.regular) == len(loaded.bold) == 2
    (run,) = runs("abc", loaded.regular)
    assert run.font is loaded.regular[0]


def test_letters_go_to_the_first_font_that_has_them() -> None:
    loaded = load_fonts()
    shipped = loaded.regular[0]
    narrow = load_fonts().regular[0]
    for code in list(narrow.face.charToGlyph):  # a font with Latin letters only
        if code > 0x17F:
            del narrow.face.charToGlyph[code]
    parts = runs("Pinus Сосна 松", (narrow, shipped))
    assert [(part.letters, part.font) for part in parts] == [
        ("Pinus ", narrow),
        ("Сосна", shipped),
        (" ", narrow),
        ("松", None),
    ]


def test_words_without_letters_are_no_runs() -> None:
    assert runs(plain(" \n "), load_fonts().regular) == ()


@pytest.mark.parametrize(
    ("content", "match"),
    [
        (None, "cannot be read"),
        (b"hello", "this is no TrueType font that can be used"),
        (b"", "this is no TrueType font that can be used"),
        (b"OTTO" + b"\0" * 200, "PostScript outlines"),
    ],
)
def test_an_own_font_that_is_none_is_refused(tmp_path: Path, content: bytes | None, match: str) -> None:
    path = tmp_path / "font.ttf"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(SettingsError, match=match):
        load_fonts(path)
