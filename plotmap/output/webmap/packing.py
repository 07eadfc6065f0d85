"""What the page is built from as one text: a JSON head, long columns of numbers as bytes, gzip, base64."""

from __future__ import annotations

import base64
import gzip
import json
import struct
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

FEWEST = 32
"""Shorter lists stay in the head."""
MOST_DECIMALS = 6
_MOST_ODD = 0.01
"""Part of a column that may need more decimals than the others; those values stand in the head."""
_LARGEST = 2**53
"""Whole numbers of this size and more are not all told apart by the page's numbers."""
_LEVEL = 6
_HEAD = struct.Struct("<I")


@dataclass(frozen=True, slots=True)
class _Column:
    """A column of numbers: what the page must know of it, and its bytes."""

    entry: dict[str, Any]
    planes: bytes


def packed(content: dict[str, Any]) -> str:
    """Return `content` as text for the page, the same bytes for the same content.

    The text is base64 of gzip of: length of the head in bytes (4 bytes, lowest first), the head (JSON, UTF-8), and
    the bytes of the columns. The head has ``content``, in which null stands for each packed column, and
    ``columns``: for each its ``path`` in the content, ``count`` of values, ``at`` and ``width``. A value is a whole
    number of `width` bytes; the lowest bytes of all values come first, beginning `at` bytes behind the head, then
    the next higher ones. ``steps``: each is the step from the value before. ``signed``: 2 v for v ≥ 0 and
    −2 v − 1 below zero. ``gaps``: zero says missing, everything else is one more than the value. ``decimals``: the
    value is to be divided by that power of ten. ``odd``: rows and values that need more decimals.
    ``array``: the page makes an array of numbers of it, not a list.

    Parameters
    ----------
    content : dict
        Dicts, lists, texts, numbers and None, and arrays of whole numbers (int64).

    Returns
    -------
    str
        ASCII.

    Raises
    ------
    ValueError
        A number is not finite: there is no word for it.
    """
    columns: list[_Column] = []
    head: dict[str, Any] = {"content": _without_columns(content, (), columns)}
    at = 0
    for column in columns:
        column.entry["at"] = at
        at += len(column.planes)
    head["columns"] = [column.entry for column in columns]
    text = json.dumps(head, ensure_ascii=False, allow_nan=False, separators=(",", ":")).encode("utf-8")
    whole = b"".join([_HEAD.pack(len(text)), text, *(column.planes for column in columns)])
    return base64.b64encode(gzip.compress(whole, _LEVEL, mtime=0)).decode("ascii")


def unpacked(text: str) -> dict[str, Any]:
    """Return what `packed` made a text of.

    Parameters
    ----------
    text : str
        As of `packed`.

    Returns
    -------
    dict
        The content, with lists for arrays.
    """
    whole = gzip.decompress(base64.b64decode(text))
    (length,) = _HEAD.unpack_from(whole)
    start = _HEAD.size + length
    head = json.loads(whole[_HEAD.size : start])
    for entry in head["columns"]:
        *parents, last = entry["path"]
        home = head["content"]
        for key in parents:
            home = home[key]
        home[last] = _values(entry, whole[start + entry["at"] :])
    return dict(head["content"])


def _without_columns(value: Any, path: tuple[str | int, ...], columns: list[_Column]) -> Any:
    """Return the content with None for long columns of numbers, which are added to `columns`."""
    if isinstance(value, dict):
        return {key: _without_columns(part, (*path, key), columns) for key, part in value.items()}
    if isinstance(value, np.ndarray):
        facts = {"path": list(path), "decimals": 0, "odd": [], "array": True}
        columns.append(_of_whole_numbers(value, np.zeros(len(value), np.bool_), facts))
        return None
    if not isinstance(value, (list, tuple)):
        return value
    kinds = set(map(type, value))
    if len(value) >= FEWEST and kinds <= {int, float, type(None)} and kinds != {type(None)}:
        numbers = np.array(value, dtype=np.float64)
        if np.isnan(numbers).sum() != value.count(None):
            raise ValueError(
                f"a number of {'.'.join(map(str, path))} is not JSON compliant: it is not finite"
            )
        column = _column(numbers, path)
        if column is not None:
            columns.append(column)
            return None
    if dict in kinds or list in kinds or tuple in kinds or np.ndarray in kinds:
        return [_without_columns(part, (*path, place), columns) for place, part in enumerate(value)]
    return value


def _column(values: NDArray[np.float64], path: tuple[str | int, ...]) -> _Column | None:
    """Return a column packed, or None where its numbers need too many decimals."""
    if np.isinf(values).any():
        raise ValueError(f"a number of {'.'.join(map(str, path))} is not JSON compliant: it is not finite")
    missing = np.isnan(values)
    for decimals in range(MOST_DECIMALS + 1):
        whole = np.where(missing, 0.0, np.rint(values * 10.0**decimals))
        odd = ~missing & ((whole / 10.0**decimals != values) | (np.abs(whole) >= _LARGEST / 4))
        if odd.sum() <= _MOST_ODD * len(values):
            break
    else:
        return None
    numbers = np.where(odd, 0.0, whole).astype(np.int64)
    rest = [[int(row), float(values[row])] for row in np.flatnonzero(odd)]
    facts = {"path": list(path), "decimals": decimals, "odd": rest, "array": False}
    return _of_whole_numbers(numbers, missing, facts)


def _of_whole_numbers(
    numbers: NDArray[np.int64], missing: NDArray[np.bool_], facts: dict[str, Any]
) -> _Column:
    """Return a column of the values or of the steps between them, whichever hold less."""
    found = _bytes_of(numbers, missing, of_steps=False)
    if not missing.any():
        found = min(found, _bytes_of(np.diff(numbers, prepend=0), missing, of_steps=True), key=_bits)
    return _Column({**facts, "count": len(numbers), **found.entry}, found.planes)


def _bytes_of(numbers: NDArray[np.int64], missing: NDArray[np.bool_], *, of_steps: bool) -> _Column:
    """Return whole numbers as bytes, the lowest of all first."""
    signed, gaps = bool((numbers < 0).any()), bool(missing.any())
    if signed:
        numbers = np.where(numbers < 0, -2 * numbers - 1, 2 * numbers)
    if gaps:
        numbers = np.where(missing, 0, numbers + 1)
    width = max(1, (int(numbers.max(initial=0)).bit_length() + 7) // 8)
    planes = numbers.astype("<i8").view(np.uint8).reshape(-1, 8)[:, :width]
    return _Column({"steps": of_steps, "signed": signed, "gaps": gaps, "width": width}, planes.T.tobytes())


def _bits(column: _Column) -> float:
    """Return about how many bits the bytes of a column hold: the entropy of each place (Shannon 1948)."""
    places = np.frombuffer(column.planes, np.uint8).reshape(column.entry["width"], -1)
    counts = np.array([np.bincount(place, minlength=256) for place in places], dtype=np.float64)
    shares = counts[counts > 0] / max(places.shape[1], 1)
    return float(-(shares * np.log2(shares)).sum() * places.shape[1])


def _values(entry: dict[str, Any], planes: bytes) -> list[float | int | None]:
    """Return the values of a packed column."""
    count, width = entry["count"], entry["width"]
    wide = np.zeros((count, 8), np.uint8)
    wide[:, :width] = np.frombuffer(planes, np.uint8, count * width).reshape(width, count).T
    numbers = wide.view("<i8").reshape(count)
    missing = (numbers == 0) & entry["gaps"]
    numbers = np.where(missing, 0, numbers - entry["gaps"])
    if entry["signed"]:
        numbers = np.where(numbers % 2 == 1, -(numbers + 1) // 2, numbers // 2)
    if entry["steps"]:
        numbers = np.cumsum(numbers)
    cells = (numbers / 10 ** entry["decimals"] if entry["decimals"] else numbers).astype(object)
    cells[missing] = None
    for row, value in entry["odd"]:
        cells[row] = value
    return list(cells.tolist())
