"""The scripts and the template of the page ask for words that the catalogue has, and for all that it has."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import plotmap
from plotmap.model.labels import catalogue

_PACKAGE = Path(plotmap.__file__).parent
_MAP = _PACKAGE / "output" / "webmap"
_SAY = re.compile(r"\bsay(?:With)?\(([^,(){]*(?:\([^()]*\)[^,(){]*)*)[,)]")
_COUNT = re.compile(r"\bplotmap\.count\((?:[^,()]|\([^()]*\))*, ([^,()]*)\)")
_TEMPLATE = re.compile(r"\bw\.([a-z][a-z0-9_]*)")
_LITERAL = re.compile(r'"([^"]*)"')


def literals(argument: str) -> list[str]:
    """Return the texts an argument may be: of a condition both outcomes, not what is compared."""
    return _LITERAL.findall(argument.rpartition("?")[2])


def asked_by(script: str) -> Iterator[str]:
    """Yield the keys of ``say("…")`` and, with their endings, of ``plotmap.count(n, "…")``."""
    for argument in _SAY.findall(script):
        yield from literals(argument)
    for argument in _COUNT.findall(script):
        for key in literals(argument):
            yield from (f"{key}_one", f"{key}_many")


def words_of_the_map() -> set[str]:
    """Return the keys of the section [map]."""
    return {key.removeprefix("map.") for key in catalogue("en") if key.startswith("map.")}


def test_the_scan_sees_calls_conditions_and_counts() -> None:
    script = (
        'say("a"); plotmap.say(x === "b" ? "c" : "d", { n: 1 }); plotmap.count(f(x) || 0, "e"); say(kind)'
    )
    assert list(asked_by(script)) == ["a", "c", "d", "e_one", "e_many"]


def test_every_word_that_the_page_asks_for_is_in_the_catalogue() -> None:
    words = words_of_the_map()
    scripts = sorted((_MAP / "page").glob("*.js"))
    asked = {script.name: set(asked_by(script.read_text("utf-8"))) for script in scripts}
    assert sum(map(len, asked.values())) > 50
    assert {name: keys - words for name, keys in asked.items() if keys - words} == {}
    template = set(_TEMPLATE.findall((_MAP / "page" / "page.html").read_text("utf-8")))
    assert template
    assert template - words == set()


def test_every_word_of_the_map_is_asked_for() -> None:
    sources = [*(_MAP / "page").glob("*.js"), *(_MAP / "page").glob("*.html"), *_MAP.glob("*.py")]
    text = "\n".join(path.read_text("utf-8") for path in sources)
    said = set(re.findall(r'"(?:map\.)?([a-z][a-z0-9_]*)"', text)) | set(_TEMPLATE.findall(text))
    said |= {f"{key}{ending}" for key in said for ending in ("_one", "_many")}
    kinds = [f"{kind}_" for kind in re.findall(r'\bsayOr\("([a-z_]+)"', text)]
    beginnings = [*kinds, *re.findall(r"(?:`|f\"map\.)([a-z][a-z0-9_]*_)\$?\{", text)]
    assert {key for key in words_of_the_map() - said if not key.startswith(tuple(beginnings))} == set()
