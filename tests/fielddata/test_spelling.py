"""Words that are nearly known ones, worked by hand: the share in common is twice the common letters over all."""

from __future__ import annotations

import pytest

from plotmap.fielddata.spelling import nearest

KNOWN = ["oak", "ash", "beech", "Scots pine", "P10", "sp"]


@pytest.mark.parametrize(
    ("word", "meant"),
    [
        ("oka", "oak"),  # neighbours changed places; only 2 · 2 / 6 of the letters stand in the same order
        ("OAK", "oak"),
        ("o ak", "oak"),
        ("beach", "beech"),  # 2 · 4 / 10 = 0.8, the least that is near
        ("bench", "beech"),
        ("batch", None),  # 2 · 3 / 10
        ("scotspine", "Scots pine"),
        ("scotts pine", "Scots pine"),
        ("elm", None),
        ("P11", None),  # another number
        ("P1O", None),  # a letter in place of a digit is another number, too
        ("s", None),
        ("ps", None),  # fewer than three letters: a code of its own
        ("", None),
    ],
)
def test_only_what_is_near_is_proposed(word: str, meant: str | None) -> None:
    assert nearest(word, KNOWN) == meant


def test_a_word_with_nothing_known_is_near_nothing() -> None:
    assert nearest("oak", []) is None


def test_of_words_that_differ_in_capitals_only_the_first_is_proposed() -> None:
    assert nearest("Oak", ["oak", "OAK"]) == "oak"
