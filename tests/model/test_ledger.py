"""The ledger balances, or it is a fault of plotmap."""

from __future__ import annotations

import pytest

from plotmap.errors import LedgerError
from plotmap.model.ledger import LEDGER_SCHEMA, LedgerEntry, ledger_frame


def test_every_row_read_is_used_or_set_aside_for_a_reason() -> None:
    frame = ledger_frame(
        [
            LedgerEntry("trees.csv", "trees", 10, 7, (("blank row", 1), ("dead", 2))),
            LedgerEntry("p.csv", "plots", 2, 2),
        ]
    )
    assert dict(frame.schema) == {name: kind() for name, kind in LEDGER_SCHEMA.items()}
    assert frame.rows() == [
        ("trees.csv", "trees", "read", "", 10),
        ("trees.csv", "trees", "used", "", 7),
        ("trees.csv", "trees", "set aside", "blank row", 1),
        ("trees.csv", "trees", "set aside", "dead", 2),
        ("p.csv", "plots", "read", "", 2),
        ("p.csv", "plots", "used", "", 2),
    ]


@pytest.mark.parametrize(("used", "aside"), [(7, 2), (7, 4), (10, 1)])
def test_a_ledger_that_does_not_balance_is_refused(used: int, aside: int) -> None:
    with pytest.raises(LedgerError, match=rf"trees.csv: 10 rows read, but {used} used and {aside} set aside"):
        ledger_frame([LedgerEntry("trees.csv", "trees", 10, used, (("dead", aside),))])


def test_no_files_make_an_empty_ledger() -> None:
    assert ledger_frame([]).height == 0
