"""What must hold for every class table and every rule; needs no source."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plotmap.model.result_tables_thinning import AT_RESIDUAL, NOTHING_LEFT, RESIDUAL
from plotmap.model.thinning import Rule
from plotmap.statistics import largest_remainder
from plotmap.thinning.cells import Cells
from plotmap.thinning.kinds import order_of
from plotmap.thinning.one_compartment import figures
from plotmap.thinning.removal import remove
from plotmap.thinning.target import target_stems
from tests.thinning_example import cells_example, rule_example

KINDS = ["from below", "from above", "proportional", "shape", "rows", "target distribution"]
tried = settings(max_examples=60, deadline=None)


@st.composite
def stands(draw: Any) -> tuple[Cells, Rule, Any]:
    """Return two draws of a class table of two species, a rule, and a target where the kind has one."""
    n = draw(st.integers(1, 7))
    amount = st.one_of(st.just(0.0), st.floats(0.001, 400))
    stems = draw(st.lists(st.tuples(amount, amount), min_size=2 * n, max_size=2 * n))
    middle = np.repeat(7.5 + 5.0 * np.arange(n), 2)
    stays = draw(st.lists(st.sampled_from([False, False, False, True]), min_size=2 * n, max_size=2 * n))
    cells = cells_example(middle, np.array(stems), species=["ash", "oak"] * n, stays=stays)
    kind = draw(st.sampled_from(KINDS))
    columns: dict[str, object] = {
        "kind": kind,
        "shape_power": draw(st.floats(-4, 4)),
        "row_share_pct": draw(st.one_of(st.none(), st.floats(1, 90))) if kind != "rows" else 30.0,
        "largest_share_pct": draw(st.one_of(st.none(), st.floats(1, 100))),
        "smallest_basal_area_m2_per_ha": draw(st.one_of(st.none(), st.floats(0, 40))),
        "smallest_stems_per_ha": draw(st.one_of(st.none(), st.floats(0, 1500))),
        "retention_stems_per_ha": draw(st.one_of(st.none(), st.floats(0, 300))),
    }
    residual = draw(st.floats(0, 60))
    name = draw(st.sampled_from(["residual_basal_area_m2_per_ha", "residual_stems_per_ha"]))
    if kind == "target distribution":
        name = "residual_basal_area_m2_per_ha"
        columns |= {"target_smallest_dbh_cm": 0.0, "row_share_pct": None}
    columns[name] = residual * (20 if "stems" in name else 1)
    target = None
    if kind == "target distribution":
        classes = np.unique(middle)
        wanted = target_stems(classes, np.full(len(classes), 5.0), residual, draw(st.floats(1, 3)), 5.0)
        target = np.repeat(wanted, 2)
    return cells, rule_example(**columns), target


def summed(cells: Cells, rule: Rule) -> Any:
    """Return what the rule's residual is about, of each cell."""
    assert rule.residual_measure is not None
    return cells.sums["stems" if rule.residual_measure.word == "stems" else "basal_area_m2"]


@tried
@given(stands())
def test_a_removal_never_exceeds_what_stands_and_what_may_be_cut(stand: Any) -> None:
    cells, rule, target = stand
    removal = remove(cells, rule, target=target)
    assert (removal.share >= 0).all()
    assert (removal.share <= order_of(cells, rule, target).open + 1e-12).all()
    assert (removal.share[cells.stays] == 0).all()


@tried
@given(stands())
def test_the_residual_is_reached_unless_a_named_limit_stopped_the_removal(stand: Any) -> None:
    cells, rule, target = stand
    removal = remove(cells, rule, target=target)
    weights = summed(cells, rule)
    left = (weights * (1 - removal.share)).sum(axis=0)
    before = weights.sum(axis=0)
    for i, limit in enumerate(removal.limit):
        if limit == RESIDUAL:
            assert left[i] == pytest.approx(rule.residual, rel=1e-9, abs=1e-9)
        elif limit == AT_RESIDUAL:
            assert before[i] <= rule.residual
            assert left[i] == before[i]
        else:
            assert left[i] >= rule.residual - 1e-9


@tried
@given(stands())
def test_no_limit_is_passed(stand: Any) -> None:
    cells, rule, target = stand
    removal = remove(cells, rule, target=target)
    basal, stems = cells.sums["basal_area_m2"], cells.sums["stems"]
    cut = (basal * removal.share).sum(axis=0)
    if rule.largest_share_pct is not None:
        assert (cut <= basal.sum(axis=0) * rule.largest_share_pct / 100 + 1e-9).all()
    for floor, before in ((rule.smallest_basal_area_m2_per_ha, basal), (rule.smallest_stems_per_ha, stems)):
        if floor is not None:
            after = (before * (1 - removal.share)).sum(axis=0)
            assert (after >= np.minimum(floor, before.sum(axis=0)) - 1e-9).all()


@tried
@given(stands(), st.floats(1, 3))
def test_relaxing_a_limit_never_lowers_the_removal(stand: Any, factor: float) -> None:
    cells, rule, target = stand
    first = remove(cells, rule, target=target).share
    looser = [
        replace(rule, largest_share_pct=None),
        replace(rule, smallest_basal_area_m2_per_ha=None),
        replace(rule, smallest_stems_per_ha=None),
        replace(rule, residual=rule.residual / factor),
    ]
    if rule.largest_share_pct is not None:
        looser.append(replace(rule, largest_share_pct=min(100.0, rule.largest_share_pct * factor)))
    for other in looser:
        assert (remove(cells, other, target=target).share >= first - 1e-9).all()


@tried
@given(stands(), st.integers(0, 1000))
def test_the_order_of_the_cells_changes_nothing(stand: Any, seed: int) -> None:
    cells, rule, target = stand
    order = np.random.default_rng(seed).permutation(len(cells.species))
    mixed = replace(
        cells,
        sums={name: values[order] for name, values in cells.sums.items()},
        **{
            name: getattr(cells, name)[order]
            for name in ("species", "class_index", "size_cm", "middle_cm", "width_cm", "stays")
        },
    )
    one = remove(cells, rule, target=target)
    other = remove(mixed, rule, target=None if target is None else target[order])
    assert other.share == pytest.approx(one.share[order], abs=1e-9)


@tried
@given(stands())
def test_the_ratios_are_identities(stand: Any) -> None:
    cells, rule, target = stand
    removal = remove(cells, rule, target=target)
    made = figures(cells, rule, removal, np.full(cells.draws, np.nan), 0.95)
    n, g = cells.sums["stems"][:, 0], cells.sums["basal_area_m2"][:, 0]
    cut_n, cut_g = n * removal.share[:, 0], g * removal.share[:, 0]
    if made["thinning_ratio"] is None or cut_n.sum() < 1e-6:
        return
    k = (cut_g.sum() / cut_n.sum()) / (g.sum() / n.sum())
    assert made["thinning_ratio"] == pytest.approx(k, rel=1e-6)
    assert made["dg_ratio"] ** 2 == pytest.approx(k, rel=1e-6)
    assert made["basal_area_cut_pct"] == pytest.approx(made["thinning_ratio"] * made["stems_cut_pct"])
    assert made["after_stems_per_ha"] + made["cut_stems_per_ha"] == pytest.approx(n.sum())


@tried
@given(stands())
def test_a_removal_ends_somewhere_and_says_where(stand: Any) -> None:
    cells, rule, target = stand
    removal = remove(cells, rule, target=target)
    everything = removal.limit == NOTHING_LEFT
    assert removal.share[:, everything] == pytest.approx(end_of(cells, rule, target)[:, everything])


def end_of(cells: Cells, rule: Rule, target: Any) -> Any:
    """Return the shares where nothing limits the rule, not even its residual."""
    free = replace(
        rule,
        residual=None,
        residual_measure=None,
        largest_share_pct=None,
        smallest_basal_area_m2_per_ha=None,
        smallest_stems_per_ha=None,
    )
    return remove(cells, free, target=target).share


@tried
@given(st.lists(st.floats(0, 500), min_size=1, max_size=40))
def test_whole_numbers_are_near_and_add_up(values: list[float]) -> None:
    exact = np.array(values)
    whole = largest_remainder(exact)
    assert whole.sum() == np.floor(np.round(exact, 9).sum() + 0.5)
    assert (np.abs(whole - exact) <= 1 + 1e-9).all()
