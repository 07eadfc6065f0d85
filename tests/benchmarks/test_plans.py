"""The benchmark of plans runs on a tiny map."""

from __future__ import annotations

import pytest

from tests.benchmarks.plans import CASES, made_up, main


def test_the_benchmark_prints_a_line_for_each_plan_and_the_checker_passes_them(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["--seconds", "0.5", "--gap", "0.05", "--units", "24"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [words.split()[1] for words in lines[2:]] == list(CASES)
    assert all(words.endswith("  ok") for words in lines[2:])


def test_the_same_map_is_made_again() -> None:
    (_, first), (_, again) = made_up(30, "apart"), made_up(30, "apart")
    assert first.value.tobytes() == again.value.tobytes()
