"""Reading CSV: RFC 4180 for quoting, RFC 3629 for UTF-8, Unicode 15 section 23.8 for the byte order mark."""

from __future__ import annotations

from pathlib import Path

import pytest

from plotmap.fielddata.raw import RawTable, UnreadableFileError
from plotmap.fielddata.text_files import read_text
from tests.folder_example import found


def _read(folder: Path, content: str | bytes) -> RawTable:
    path = folder / "trees.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return read_text(path, "", path.name)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("line_end", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_cells_are_the_same_whatever_parts_them_and_ends_their_lines(
    tmp_path: Path, delimiter: str, line_end: str, mark: bytes
) -> None:
    rows = [["plot", "d1_cm"], ["001", "31.5"], ["10E2", ""]]
    text = line_end.join(delimiter.join(cells) for cells in rows)
    raw = _read(tmp_path, mark + text.encode())
    assert raw.headings == ("plot", "d1_cm")
    assert raw.cells.rows() == [("001", "31.5"), ("10E2", None)]
    assert raw.first_row == 2


def test_decimal_commas_do_not_pass_for_delimiters_in_a_file_with_semicolons(tmp_path: Path) -> None:
    raw = _read(tmp_path, "plot;d1_cm;d2_cm\nA;31,5;30,9\n")
    assert raw.cells.rows() == [("A", "31,5", "30,9")]


def test_a_quoted_heading_may_hold_the_delimiter_of_another_file(tmp_path: Path) -> None:
    raw = _read(tmp_path, '"a;b;c;d",plot\n1,2\n')
    assert raw.headings == ("a;b;c;d", "plot")


def test_quoted_cells_keep_delimiters_line_breaks_and_doubled_quotes(tmp_path: Path) -> None:
    raw = _read(tmp_path, 'plot,remark\nA,"x, y"\nB,"two\nlines"\nC,"say ""no"""\n')
    assert raw.cells.rows() == [("A", "x, y"), ("B", "two\nlines"), ("C", 'say "no"')]


def test_a_heading_may_go_on_over_two_lines(tmp_path: Path) -> None:
    raw = _read(tmp_path, '"plot\nno",d1_cm\nA,31\n')
    assert raw.headings == ("plot\nno", "d1_cm")
    assert raw.cells.rows() == [("A", "31")]


def test_a_quote_inside_an_unquoted_cell_is_a_letter_like_any_other(tmp_path: Path) -> None:
    raw = _read(tmp_path, 'plot,remark\nA,12" ash\nB,13" ash\n')
    assert raw.cells.rows() == [("A", '12" ash'), ("B", '13" ash')]


def test_blank_lines_stay_so_that_rows_keep_their_numbers(tmp_path: Path) -> None:
    raw = _read(tmp_path, "plot,d1_cm\nA,1\n\nB,2\n\n")
    assert raw.cells.rows() == [("A", "1"), (None, None), ("B", "2"), (None, None)]


def test_short_rows_are_filled_with_blanks(tmp_path: Path) -> None:
    assert _read(tmp_path, "plot,d1_cm,remark\nA,1\n").cells.rows() == [("A", "1", None)]


def test_a_row_with_more_cells_than_headings_is_a_finding_and_the_others_are_read(tmp_path: Path) -> None:
    raw = _read(tmp_path, 'plot,d1_cm\nA,31,5\n"B\nb",2\n\nC,30,9\n')
    rows = found(raw.findings, "line-too-long")
    assert [(row["row"], row["value"], row["severity"]) for row in rows] == [
        (2, "5", "error"),
        (5, "9", "error"),
    ]
    assert "has 3 cells, but there are 2 headings" in rows[0]["message"]
    assert "semicolons" in rows[0]["hint"]
    assert raw.cells.rows() == [("A", "31"), ("B\nb", "2"), (None, None), ("C", "30")]


def test_a_row_too_long_below_a_single_heading_is_a_finding_too(tmp_path: Path) -> None:
    raw = _read(tmp_path, "plot\nA\nB,31\n")
    assert [(row["row"], row["value"]) for row in found(raw.findings, "line-too-long")] == [(3, "31")]
    assert raw.cells["c0"].to_list() == ["A", "B"]


@pytest.mark.parametrize("text", ["plot,d1_cm\nA,31,\nB,30, ,\n", "plot,d1_cm,\nA,31,\nB,30,,"])
def test_blank_cells_beyond_the_headings_are_no_finding(tmp_path: Path, text: str) -> None:
    raw = _read(tmp_path, text)
    assert not len(raw.findings)
    assert raw.cells.select("c0", "c1").rows() == [("A", "31"), ("B", "30")]


def test_rows_as_long_as_the_heading_are_no_finding(tmp_path: Path) -> None:
    assert not len(_read(tmp_path, "plot,d1_cm\nA,31\n").findings)


def test_two_headings_alike_are_both_kept(tmp_path: Path) -> None:
    raw = _read(tmp_path, "plot,plot\nA,B\n")
    assert raw.headings == ("plot", "plot")
    assert raw.cells.rows() == [("A", "B")]


def test_a_heading_alone_is_a_table_without_rows(tmp_path: Path) -> None:
    assert _read(tmp_path, "plot,d1_cm").cells.height == 0


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "the file is empty"),
        (b"\xef\xbb\xbf \n", "the file is empty"),
        (b"\n1,2\n", "must hold the headings, but it is blank"),
        (b",,\n1,2,3\n", "must hold the headings, but it is blank"),
        ("plot,d1_cm\nA,1\n".encode("utf-16"), "UTF-16, but must be UTF-8"),
        ("plot,d1_cm\nA,1\n".encode("utf-16-le"), "zero bytes"),
        ("plot,größe\nA,1\n".encode("latin-1"), "heading is not UTF-8"),
        ("plot,remark\nA,1\nB,Föhre\n".encode("latin-1"), "line 3 is not UTF-8"),
        (b"plot,d1_cm\nA,1\nB,\x002\n", "zero bytes"),
        (b"plot,d1_cm\n" + b"A,1\n" * 300_000 + b"\x00", "line 300002 holds a zero byte"),
        (b"plot,d1_cm\rA,1\rB,2\r", "carriage returns alone"),
        (b'plot,"d1_cm\nA,1\nB,2\n', "double quote that never ends"),
        (b'plot,d1_cm\nA,1\nB,"2\nC,3\n', "row 3 cannot be read"),
        (b'plot,d1_cm\nA,1\nB,"2"3\nC,"3\n', "row 3 cannot be read"),
        (b'plot,remark\nA,1\nB,"ash"  "\n', "row 3 cannot be read"),
        (
            b'plot,remark\nA,"b"\nB,"' + b"x" * 200_000 + b'"\n',
            "row 3 has a cell of more than 131,072 letters",
        ),
        (b"p" * 1_100_000, "longer than 1,048,576 bytes"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_is_no_text_table_is_refused_with_the_place(tmp_path: Path, content: bytes, says: str) -> None:
    with pytest.raises(UnreadableFileError, match=says):
        _read(tmp_path, content)


def test_a_cell_of_a_million_letters_is_read(tmp_path: Path) -> None:
    raw = _read(tmp_path, "plot,remark\nA," + "x" * 1_000_000 + "\n")
    assert raw.cells.row(0) == ("A", "x" * 1_000_000)


def test_ten_thousand_columns_are_read(tmp_path: Path) -> None:
    names = [f"h{number}" for number in range(10_000)]
    raw = _read(tmp_path, ",".join(names) + "\n" + ",".join("1" for _ in names) + "\n")
    assert raw.headings == tuple(names)
    assert raw.cells.shape == (1, 10_000)
