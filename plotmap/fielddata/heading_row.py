"""Which row of a file holds the headings: title rows may stand above it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from plotmap.fielddata.headings import lacks_unit, understand
from plotmap.fielddata.raw import UnreadableFileError
from plotmap.model.columns import Kind, Table
from plotmap.model.findings import Findings, finding

HEAD_ROWS = 20
"""The heading is looked for among the first rows of a file only."""
_HEAD_CELLS = 500
"""Cells of a row that are looked at."""
_SHOWN = 60


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a file is to hold, so that its reader can tell headings from titles.

    Attributes
    ----------
    table : Table
        Declaration.
    own : mapping of str to str
        Own heading to plotmap column, from the settings.
    """

    table: Table
    own: Mapping[str, str] = field(default_factory=dict)

    def kind(self, written: str) -> Kind | None:
        """Return what the cells below a heading hold; None where it is no column of the table."""
        found = understand(self.table, self._by_own().get(written.strip().casefold(), written))
        return found.column.kind if found else None

    def _by_own(self) -> dict[str, str]:
        """Return the own headings in small letters."""
        return {heading.strip().casefold(): target for heading, target in self.own.items()}

    def known(self, rows: Sequence[Sequence[str]]) -> list[int]:
        """Return for each row how many of its cells are headings of the table, a missing unit forgiven."""
        by_own = self._by_own()
        counts: list[int] = []
        seen: dict[str, bool] = {}
        for row in rows:
            for text in {*row[:_HEAD_CELLS]} - seen.keys():
                meant = by_own.get(text.strip().casefold(), text)
                seen[text] = any(map(str.isalpha, meant)) and (
                    understand(self.table, meant) is not None or lacks_unit(self.table, meant)
                )
            counts.append(sum(seen[text] for text in row[:_HEAD_CELLS]))
        return counts


def mostly_known(row: Sequence[str], n_known: int) -> bool:
    """Say whether more than half of the filled cells of a row are known."""
    return 2 * n_known > _n_filled(row[:_HEAD_CELLS])


def _n_filled(row: Sequence[str]) -> int:
    """Return how many cells of a row hold anything."""
    return sum(bool(text.strip()) for text in row)


def heading_place(rows: Sequence[Sequence[str]], wanted: Wanted | None) -> int:
    """Return the place of the heading among the first rows of a file, from 0.

    The heading is the row most of whose filled cells are columns of the table or headings mapped to them; of several
    such rows the one with most columns. The first row stands where no other row has more columns than it.

    Parameters
    ----------
    rows : sequence of sequence of str
        First rows of the file, blank cells as empty text.
    wanted : Wanted or None
        Without it the first row holds the headings.

    Raises
    ------
    UnreadableFileError
        Two rows fit equally well; or a row below the first has more columns than it, but not as most of its cells.
        One word in a row of data that happens to be a column is no reason where the first row is not a lone title.
    """
    if wanted is None or not rows:
        return 0
    counts = wanted.known(rows[:HEAD_ROWS])
    fitting = [place for place, n in enumerate(counts) if mostly_known(rows[place], n)]
    most = max((counts[place] for place in fitting), default=0)
    best = [place for place in fitting if counts[place] == most]
    name = wanted.table.name
    if len(best) > 1:
        numbers = " and ".join(str(place + 1) for place in best)
        raise UnreadableFileError(
            f"rows {numbers} fit equally well as the heading of {name}: keep one of them, and delete the others"
        )
    if best and (most > counts[0] or best[0] == 0):
        return best[0]
    highest = max(counts)
    if highest > counts[0] and (highest > 1 or _n_filled(rows[0]) <= 1):
        number = counts.index(highest) + 1
        filled = _n_filled(rows[number - 1])
        raise UnreadableFileError(
            f"no row among the first {HEAD_ROWS} is made up mostly of columns of {name}, so there is no heading. "
            f"Row {number} comes nearest with {highest} of {filled}: map its other headings in survey.toml under "
            f"[columns.{name}], or delete the rows above it"
        )
    return 0


def rows_above(rows: Sequence[Sequence[str]], place: int, source: str) -> Findings:
    """Return heading-row-found where rows stand above the heading.

    Parameters
    ----------
    rows : sequence of sequence of str
        First rows of the file.
    place : int
        Of the heading, from 0.
    source : str
        File, and sheet, for findings.
    """
    if not place:
        return Findings.none()
    titles = [" ".join(text.strip() for text in row if text.strip()) for row in rows[:place]]
    first = next((title for title in titles if title), "")
    said = f" ({first[:_SHOWN]}{'…' if len(first) > _SHOWN else ''})" if first else ""
    are = "row above it is" if place == 1 else f"{place} rows above it are"
    message = f"the heading was found in row {place + 1}; the {are} not read{said}"
    return finding("heading-row-found", source, message, row=place + 1, value=first[:_SHOWN] or None)
