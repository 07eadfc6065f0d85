"""Lays the report out as one HTML file: no script, no request, everything that a user typed shown as typed."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Iterator
from html import escape
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING

from plotmap.files import whole_file
from plotmap.model.labels import labels_of
from plotmap.output.paper.fonts import Fonts, fonts_for
from plotmap.output.paper.letters import plain
from plotmap.output.paper.sizes import Box
from plotmap.output.paper.symbols import AreaStyle, mark, swatch
from plotmap.output.report.blocks import Block, Facts, Head, Section, TableBlock, Text
from plotmap.output.report.cards import Card, cards
from plotmap.output.report.class_chart import draw_chart
from plotmap.output.report.content import Report, report_of
from plotmap.output.report.pictures import Locator, draw_map, map_picture
from plotmap.output.report.svg_pen import SvgPen

if TYPE_CHECKING:
    from plotmap.model.labels import Labels
    from plotmap.model.survey import Stand
    from plotmap.output.paper.marginalia import Key

_MAP_BOX, _CHART_BOX, _LOCATOR_BOX = Box(0, 0, 126, 105), Box(0, 0, 92, 46), Box(0, 0, 46, 40)
_SWATCH_BOX = Box(0, 0, 8, 5)


class _Figures:
    """Makes the figures of one page."""

    def __init__(self, fonts: Fonts) -> None:
        self._fonts = fonts
        self._forms: set[str] = set()
        self._n = 0

    def pen(self, box: Box) -> SvgPen:
        """Return the pen of the next figure."""
        self._n += 1
        return SvgPen(box, self._fonts, self._forms, self._n)


def write_report_html(stand: Stand, path: Path | str, folder: Path | None = None) -> None:
    """Write the report as one HTML file that runs nothing and asks no host for anything.

    The same stand gives the same bytes.

    Parameters
    ----------
    stand : Stand
        Everything that was computed.
    path : Path or str
        File to write; its folder exists. A file there is replaced.
    folder : Path, optional
        Survey folder, which ``[paper] font`` starts from.

    Raises
    ------
    SettingsError
        The font of the settings is none.
    OutputError
        The file cannot be written.
    """
    path = Path(path)
    labels = labels_of(stand.settings)
    fonts = fonts_for(stand.settings.paper.font, folder)
    with whole_file(path, "the report") as beside, beside.open("w", encoding="utf-8", newline="\n") as file:
        file.writelines(_page(stand, labels, fonts))


def _page(stand: Stand, labels: Labels, fonts: Fonts) -> Iterator[str]:
    """Yield the page piece by piece."""
    report, figures = report_of(stand, labels), _Figures(fonts)
    yield from _head(report)
    yield f'<header><h1>{_e(report.title)}</h1>\n<p class="subtitle">{_e(report.subtitle)}</p>\n'
    yield from _contents(report, labels)
    yield "</header>\n"
    yield f'<section id="found"><h2>{_e(labels("report.found"))}</h2>\n'
    yield from (f"<p>{_e(words)}</p>\n" for words in report.lead)
    yield from _headline(report)
    yield from _map(stand, report, labels, figures)
    yield _table(report.totals)
    yield "</section>\n"
    yield f'<section id="cautions" class="lead-cautions"><h2>{_e(report.cautions.title)}</h2>\n'
    yield from _blocks(report.cautions.blocks)
    yield "</section>\n"
    yield from _section(report.tables)
    yield from _section(report.sure)
    yield from _cards(stand, report, labels, figures)
    for section in (report.methods, report.findings, report.aside, report.inputs):
        yield from _section(section)
    yield f"<footer><p>{_e(report.footer)}</p></footer>\n</main>\n</body>\n</html>\n"


def _head(report: Report) -> Iterator[str]:
    """Yield all up to the content, with a policy that lets nothing run or load."""
    style = resources.files("plotmap.output.report").joinpath("report.css").read_text("utf-8")
    digest = base64.b64encode(hashlib.sha256(style.encode("utf-8")).digest()).decode("ascii")
    policy = f"default-src 'none'; style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'"
    yield f'<!DOCTYPE html>\n<html lang="{_e(report.language)}">\n<head>\n<meta charset="utf-8">\n'
    yield f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
    yield '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
    yield '<meta name="referrer" content="no-referrer">\n'
    yield f"<title>{_e(report.title)}</title>\n<style>{style}</style>\n</head>\n<body>\n<main>\n"


def _contents(report: Report, labels: Labels) -> Iterator[str]:
    """Yield links to the parts."""
    places = [
        ("found", labels("report.found")),
        *((section.key, section.title) for section in (report.tables, report.sure)),
        ("cards", report.cards_title),
        *(
            (section.key, section.title)
            for section in (report.methods, report.findings, report.aside, report.inputs)
        ),
    ]
    links = "".join(f'<li><a href="#{key}">{_e(title)}</a></li>' for key, title in places)
    yield f'<nav aria-label="{_e(labels("report.contents"))}"><ul>{links}</ul></nav>\n'


def _headline(report: Report) -> Iterator[str]:
    """Yield the figures of the whole survey."""
    yield '<ul class="headline">\n'
    for one in report.headline:
        value = f"{one.value} {one.unit}".strip() if one.value else one.why
        below = " · ".join(part for part in (one.half, one.limits) if part) or (one.why if one.value else "")
        yield f"<li><span>{_e(one.title)}</span><b>{_e(value)}</b><span>{_e(below)}</span></li>\n"
    yield "</ul>\n"


def _map(stand: Stand, report: Report, labels: Labels, figures: _Figures) -> Iterator[str]:
    """Yield the map with its legend."""
    picture = map_picture(stand, labels)
    pen = figures.pen(_MAP_BOX)
    draw_map(pen, _MAP_BOX, picture, numeric=False)
    yield f'<div class="overview">\n{pen.figure(report.map_said)}\n<ul class="legend">\n'
    yield from (_key(key, figures) for key in picture.keys)
    yield "</ul>\n</div>\n"


def _key(key: Key, figures: _Figures) -> str:
    """Return one line of the legend."""
    count = f'<span class="n">{_e(key.count)}</span>'
    if key.sample is None:
        return f'<li class="head"><span>{_e(key.words)}</span>{count}</li>\n'
    pen = figures.pen(_SWATCH_BOX)
    if isinstance(key.sample, AreaStyle):
        swatch(pen, _SWATCH_BOX.inset(0.4), key.sample)
    else:
        mark(pen, *_SWATCH_BOX.centre_mm, key.sample, 1.4)
    return f"<li>{pen.figure('')}<span>{_e(key.words)}</span>{count}</li>\n"


def _section(section: Section) -> Iterator[str]:
    """Yield a part with its heading."""
    yield f'<section id="{section.key}"><h2>{_e(section.title)}</h2>\n'
    yield from _blocks(section.blocks)
    yield "</section>\n"


def _blocks(blocks: tuple[Block, ...]) -> Iterator[str]:
    """Yield blocks; items that follow each other are one list."""
    in_list = False
    for block in blocks:
        is_item = isinstance(block, Text) and block.kind == "bullet"
        if is_item != in_list:
            yield "<ul>\n" if is_item else "</ul>\n"
            in_list = is_item
        yield _block(block)
    if in_list:
        yield "</ul>\n"


def _block(block: Block) -> str:
    """Return one block."""
    if isinstance(block, TableBlock):
        return _table(block)
    if isinstance(block, Facts):
        pairs = "".join(f"<dt>{_e(term)}</dt><dd>{_e(said)}</dd>\n" for term, said in block.pairs)
        return f"<dl>\n{pairs}</dl>\n"
    words = _e(block.words)
    return {
        "plain": f"<p>{words}</p>\n",
        "note": f'<p class="note">{words}</p>\n',
        "bullet": f"<li>{words}</li>\n",
        "heading": f"<h3>{words}</h3>\n",
    }[block.kind]


def _table(block: TableBlock, *, small: bool = False) -> str:
    """Return a table that scrolls by itself where the screen is narrow."""
    heads = "".join(_cell("th", head, head.words, ' scope="col"') for head in block.heads)
    rows = "".join(_row(block.heads, row, strong=at < block.n_bold) for at, row in enumerate(block.rows))
    of = ' class="small"' if small else ""
    title = _e(block.title)
    note = f'<p class="note">{_e(block.note)}</p>\n' if block.note else ""
    caption = f"<caption{' class=quiet' if not block.shown_title else ''}>{title}</caption>"
    return (
        f'<div class="wide" tabindex="0" role="region" aria-label="{title}"><table{of}>{caption}\n'
        f"<thead><tr>{heads}</tr></thead>\n<tbody>\n{rows}</tbody></table></div>\n{note}"
    )


def _row(heads: tuple[Head, ...], row: tuple[str, ...], *, strong: bool) -> str:
    """Return a row; its first cell heads it."""
    first = _cell("th", heads[0], row[0], ' scope="row"')
    rest = "".join(_cell("td", head, cell) for head, cell in zip(heads[1:], row[1:], strict=True))
    of = ' class="strong"' if strong else ""
    return f"<tr{of}>{first}{rest}</tr>\n"


def _cell(tag: str, head: Head, words: str, more: str = "") -> str:
    """Return one cell."""
    of = ' class="n"' if head.numeric else ""
    return f"<{tag}{more}{of}>{_e(words)}</{tag}>"


def _cards(stand: Stand, report: Report, labels: Labels, figures: _Figures) -> Iterator[str]:
    """Yield the cards, or why there are none."""
    yield f'<section id="cards"><h2>{_e(report.cards_title)}</h2>\n'
    if not report.has_cards:
        yield f"<p>{_e(report.cards_note)}</p>\n</section>\n"
        return
    locator = Locator.of(stand, _LOCATOR_BOX)
    pen = figures.pen(_LOCATOR_BOX)
    locator.draw_all(pen)
    yield pen.hidden() + "\n"
    for card in cards(stand, labels):
        yield from _card(card, locator, labels, figures)
    yield "</section>\n"


def _card(card: Card, locator: Locator, labels: Labels, figures: _Figures) -> Iterator[str]:
    """Yield the card of one compartment."""
    name = f"card-{card.row + 1}"
    yield f'<article id="{name}" aria-labelledby="{name}-name"><h3 id="{name}-name">{_e(card.heading)}</h3>\n'
    yield f'<p class="note">{_e(card.base)}</p>\n<p>{_e(card.status)}</p>\n'
    yield '<div class="parts"><div>\n'
    if card.figures:
        yield _table(card.figures, small=True)
    if card.chart is not None:
        pen = figures.pen(_CHART_BOX)
        draw_chart(pen, _CHART_BOX, card.chart)
        yield f"<h4>{_e(labels('report.chart_title'))}</h4>\n{pen.figure(card.chart.said)}\n"
    elif card.no_chart:
        yield f"<p>{_e(card.no_chart)}</p>\n"
    yield "</div><div>\n"
    pen = figures.pen(_LOCATOR_BOX)
    locator.draw_one(pen, card.row)
    yield pen.figure(labels("report.locator_said", name=card.heading), "locator") + "\n"
    if card.species:
        yield _table(card.species, small=True)
    yield "</div></div>\n"
    if card.plots:
        yield _table(card.plots)
    if card.cautions:
        items = "".join(f"<li>{_e(words)}</li>" for words in card.cautions)
        yield f'<ul class="cautions">{items}</ul>\n'
    yield "</article>\n"


def _e(words: str) -> str:
    """Return words as text of the page, whatever is in them."""
    return escape(plain(words))
