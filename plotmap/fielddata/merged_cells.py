"""Merged cells of a sheet: the value stands in the first cell only, and is meant for all of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from plotmap.fielddata.cell_names import cell_name, listed
from plotmap.model.findings import Findings, finding

_SHOWN = 80
_Range = tuple[tuple[int, int], tuple[int, int]]


@dataclass(frozen=True, slots=True)
class MergedRange:
    """A block of merged cells: first and last row and column from 0."""

    top: int
    left: int
    bottom: int
    right: int

    @property
    def name(self) -> str:
        """As a spreadsheet names it: A2:A7."""
        return f"{cell_name(self.left, self.top + 1)}:{cell_name(self.right, self.bottom + 1)}"


def merged_ranges(stated: Sequence[_Range] | None) -> list[MergedRange]:
    """Return merged ranges in the order of their rows.

    Parameters
    ----------
    stated : sequence of pairs of (row, column), or None
        First and last cell of each, from 0.
    """
    return sorted((MergedRange(*first, *last) for first, last in stated or ()), key=lambda r: (r.top, r.left))


def filled_heads(rows: Sequence[Sequence[str]], merged: Sequence[MergedRange]) -> list[list[str]]:
    """Return the first rows with merged cells filled down, as where a heading reaches over two rows.

    Parameters
    ----------
    rows : sequence of sequence of str
        First rows of a sheet, all of one length.
    merged : sequence of MergedRange
        Of the whole sheet.
    """
    filled = [list(row) for row in rows]
    for block in merged:
        if block.top < len(rows) and block.left < len(rows[0]):
            for row in range(block.top + 1, min(block.bottom, len(rows) - 1) + 1):
                filled[row][block.left] = filled[block.top][block.left]
    return filled


@dataclass(frozen=True, slots=True)
class MergedBlocks:
    """What became of the merged blocks below a heading.

    Attributes
    ----------
    filled, counts, titles : tuple of MergedRange
        Blocks whose value was put into more cells; counts over several rows, which were left; titles alone in their
        rows, which were left.
    """

    filled: tuple[MergedRange, ...]
    counts: tuple[MergedRange, ...]
    titles: tuple[MergedRange, ...]


def fill_merged(
    rows: list[list[Any]],
    heading: int,
    merged: Sequence[MergedRange],
    is_count: Callable[[int], bool],
) -> MergedBlocks:
    """Put the value of merged cells below the heading into all of them, in place.

    A row that holds nothing but cells merged with a row above stays as it is: it is part of a taller row. A block
    over several columns that is alone in its rows is a title and no data, and is not filled either. Cells that
    are blank and not merged are never filled.

    Parameters
    ----------
    rows : list of list
        All rows of the sheet, of one length, the cells as read; blank ones None or empty text.
    heading : int
        Place of the heading; blocks that begin there or above are left.
    merged : sequence of MergedRange
        Of the sheet.
    is_count : callable
        Whether a column, from 0, holds counts: one number merged over several rows may be their sum.
    """
    inside = (_inside(block, rows) for block in merged if block.top > heading)
    below = [block for block in inside if block is not None]
    blocks_of: dict[int, list[MergedRange]] = defaultdict(list)
    for block in below:
        for row in range(block.top, block.bottom + 1):
            blocks_of[row].append(block)
    has_own = {row: _has_own(rows[row], row, blocks) for row, blocks in blocks_of.items()}
    titles = [
        block
        for block in below
        if block.right > block.left
        and not any(_beside(rows[row], block) for row in range(block.top, block.bottom + 1))
    ]
    filled, counts = [], []
    for block in below:
        lines = [row for row in range(block.top, block.bottom + 1) if has_own[row]]
        n_columns = block.right - block.left + 1
        if block in titles or (len(lines) == 1 and n_columns == 1):
            continue
        if len(lines) > 1 and any(is_count(column) for column in range(block.left, block.right + 1)):
            counts.append(block)
            continue
        value = rows[block.top][block.left]
        for row in lines:
            rows[row][block.left : block.right + 1] = [value] * n_columns
        filled.append(block)
    return MergedBlocks(tuple(filled), tuple(counts), tuple(titles))


def _inside(block: MergedRange, rows: list[list[Any]]) -> MergedRange | None:
    """Return the part of a block that lies in the sheet, None where it holds nothing."""
    if block.top >= len(rows) or block.left >= len(rows[0]) or _blank(rows[block.top][block.left]):
        return None
    return MergedRange(
        block.top, block.left, min(block.bottom, len(rows) - 1), min(block.right, len(rows[0]) - 1)
    )


def _has_own(cells: list[Any], row: int, blocks: Sequence[MergedRange]) -> bool:
    """Say whether a row holds a value that does not come down from a row above."""
    from_above = {
        column for block in blocks if block.top < row for column in range(block.left, block.right + 1)
    }
    return any(not _blank(cell) for column, cell in enumerate(cells) if column not in from_above)


def _beside(cells: list[Any], block: MergedRange) -> bool:
    """Say whether a row holds a value beside a block."""
    return any(not _blank(c) for column, c in enumerate(cells) if not block.left <= column <= block.right)


def _blank(cell: Any) -> bool:
    """Say whether a cell holds nothing."""
    return cell is None or (isinstance(cell, str) and not cell.strip())


def merged_findings(
    blocks: MergedBlocks,
    headings: Sequence[str],
    shown: Callable[[MergedRange], str],
    source: str,
) -> Findings:
    """Return cells-merged, count-merged and title-row, one finding a column.

    Parameters
    ----------
    blocks : MergedBlocks
        As `fill_merged` returns them.
    headings : sequence of str
        Of the sheet.
    shown : callable
        Value of a block as text.
    source : str
        File and sheet.
    """
    found: list[Findings] = []
    for code, of_kind in (
        ("cells-merged", blocks.filled),
        ("count-merged", blocks.counts),
        ("title-row", blocks.titles),
    ):
        columns: dict[int, list[MergedRange]] = defaultdict(list)
        for block in of_kind:
            columns[block.left].append(block)
        for column, own in columns.items():
            name = headings[column] if column < len(headings) else ""
            value = shown(own[0])[:_SHOWN]
            message = _message(code, own, value)
            found.append(finding(code, source, message, row=own[0].top + 1, column=name or None, value=value))
    return Findings.join(found)


def _message(code: str, blocks: Sequence[MergedRange], value: str) -> str:
    """Return what a finding says of the blocks of a column."""
    ranges = listed([block.name for block in blocks])
    one = len(blocks) == 1
    if code == "cells-merged":
        are = "1 block of merged cells was" if one else f"{len(blocks)} blocks of merged cells were"
        return f"{are} filled with the value of the first cell ({ranges}); the first holds {value}"
    if code == "count-merged":
        are = "1 count is" if one else f"{len(blocks)} counts are"
        return (
            f"{are} merged over several rows ({ranges}); nothing says whether {value} is for each or for all"
        )
    are = "1 row holds" if one else f"{len(blocks)} rows hold"
    return f"{are} a title alone, merged over several columns ({ranges}): {value}; it is no data"
