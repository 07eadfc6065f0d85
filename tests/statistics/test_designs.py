"""What a design refuses, naming the stratum, and what it makes of strata with one unit."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from plotmap.statistics import Design

_NAN, _INF = float("nan"), float("inf")


def _of(**given: Any) -> Design:
    """Return a design of two strata, valley with two units and slope with three, unless told otherwise."""
    return Design(**{"strata": [0, 0, 1, 1, 1], "stratum_names": ["valley", "slope"], **given})


def test_weights_come_from_stratum_sizes_and_are_one_without_them() -> None:
    np.testing.assert_array_equal(_of(stratum_sizes=[20, 30]).final_weights, [10.0] * 5)
    np.testing.assert_array_equal(_of().final_weights, [1.0] * 5)


def test_weights_that_are_given_go_before_those_of_stratum_sizes() -> None:
    design = _of(stratum_sizes=[20, 30], weights=[1.0, 2.0, 3.0, 4.0, 5.0])
    np.testing.assert_array_equal(design.final_weights, [1.0, 2.0, 3.0, 4.0, 5.0])
    np.testing.assert_allclose(design.fractions, [0.1, 0.1])


@pytest.mark.parametrize("weight", [0.0, -1.0, _NAN, _INF])
def test_a_weight_that_is_none_is_refused_with_its_stratum(weight: float) -> None:
    with pytest.raises(
        ValueError, match=rf"stratum slope: the weight of unit 3 is {weight:g}, but .* above zero"
    ):
        _of(weights=[1.0, 1.0, 1.0, weight, 1.0])


def test_a_sample_of_no_unit_is_refused() -> None:
    with pytest.raises(ValueError, match="strata is empty: a sample has at least one unit"):
        Design(np.array([], dtype=int))


def test_a_sample_of_one_unit_is_refused_unless_it_is_the_whole_population() -> None:
    with pytest.raises(
        ValueError, match="stratum all has one unit, which has no variance; two or more are needed"
    ):
        Design([0])
    with pytest.raises(ValueError, match="stratum all has one unit, and no stratum has two or more to pool"):
        Design([0], single_unit="pooled")
    assert Design([0], stratum_sizes=[1]).fractions[0] == 1


def test_a_stratum_that_no_unit_is_in_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="stratum ridge has no unit: nothing is known of it"):
        _of(stratum_names=["valley", "slope", "ridge"])
    with pytest.raises(ValueError, match="strata bog, ridge have no unit"):
        _of(strata=[0, 0, 3, 3, 3], stratum_names=["valley", "bog", "ridge", "slope"])
    with pytest.raises(ValueError, match="post-stratum old has no unit"):
        _of(post_strata=[0] * 5, post_stratum_sizes=[4, 5], post_stratum_names=["young", "old"])


def test_a_population_smaller_than_its_sample_is_refused_by_name_and_one_as_large_is_taken() -> None:
    with pytest.raises(
        ValueError, match="stratum slope: 3 units were sampled of a population of 2; it cannot be"
    ):
        _of(stratum_sizes=[20, 2])
    assert _of(stratum_sizes=[20, 3]).fractions[1] == 1


def test_the_population_of_clusters_is_counted_in_clusters() -> None:
    design = _of(clusters=[0, 1, 0, 0, 1], stratum_sizes=[4, 2])
    np.testing.assert_allclose(design.fractions, [0.5, 1.0])
    np.testing.assert_array_equal(design.final_weights, [2.0, 2.0, 1.0, 1.0, 1.0])
    with pytest.raises(ValueError, match="stratum slope: 2 units were sampled of a population of 1"):
        _of(clusters=[0, 1, 0, 0, 1], stratum_sizes=[4, 1])


@pytest.mark.parametrize("size", [0.0, -4.0, _NAN, _INF])
def test_sizes_that_are_none_are_refused_by_name(size: float) -> None:
    with pytest.raises(
        ValueError, match=rf"stratum slope: stratum_sizes is {size:g}, but must be above zero"
    ):
        _of(stratum_sizes=[20, size])
    with pytest.raises(
        ValueError, match=rf"post-stratum 1: post_stratum_sizes is {size:g}, but must be above"
    ):
        _of(post_strata=[0, 0, 0, 1, 1], post_stratum_sizes=[20, size])


@pytest.mark.parametrize("fraction", [-0.01, 1.01, _NAN])
def test_a_sampling_fraction_outside_its_range_is_refused_by_name(fraction: float) -> None:
    with pytest.raises(
        ValueError, match=rf"stratum slope: sampling_fraction is {fraction:g}, but must be 0 to 1"
    ):
        _of(sampling_fraction=[0.1, fraction])


def test_a_sampling_fraction_goes_before_the_one_of_stratum_sizes() -> None:
    np.testing.assert_array_equal(_of(stratum_sizes=[20, 30], sampling_fraction=0.0).fractions, [0.0, 0.0])
    np.testing.assert_array_equal(_of(sampling_fraction=1.0).fractions, [1.0, 1.0])


def test_codes_and_lengths_that_do_not_fit_are_refused() -> None:
    for given, message in (
        ({"strata": [0, 0, 1, 1, 2]}, "strata must be whole numbers from 0 to 1"),
        ({"strata": [0, 0, 1, 1, -1]}, "strata must be whole numbers from 0 to 1"),
        ({"strata": [0.0, 0.0, 1.0, 1.0, 1.0]}, "strata must be whole numbers"),
        ({"strata": [[0, 1]]}, "strata has shape"),
        ({"weights": [1.0]}, "weights has shape"),
        ({"clusters": [0, 1]}, "clusters has shape"),
        ({"clusters": [0, 1, -1, 0, 1]}, "clusters must be whole numbers from 0: "),
        ({"stratum_sizes": [4.0]}, "stratum_sizes has shape"),
        ({"sampling_fraction": [0.1, 0.1, 0.1]}, "sampling_fraction has shape"),
        ({"post_strata": [0] * 5}, "post_strata and post_stratum_sizes go together"),
        ({"post_stratum_sizes": [5]}, "post_strata and post_stratum_sizes go together"),
        (
            {"single_unit": "certainty"},
            "single_unit is 'certainty', but must be one of refuse, merge, pooled",
        ),
    ):
        with pytest.raises(ValueError, match=message):
            _of(**given)


def test_a_stratum_with_one_unit_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="stratum valley has one unit, which has no variance"):
        _of(strata=[0, 1, 1, 1, 1])
    with pytest.raises(ValueError, match="post-stratum 0 has one unit, which has no variance"):
        _of(post_strata=[0, 1, 1, 1, 1], post_stratum_sizes=[3, 3])


def test_a_stratum_with_one_unit_is_merged_with_the_one_that_is_named() -> None:
    design = _of(
        strata=[0, 1, 1, 1, 1], stratum_sizes=[10, 40], single_unit="merge", merge_into={"valley": "slope"}
    )
    np.testing.assert_array_equal(design.cluster_stratum, [1] * 5)
    assert design.fractions[1] == pytest.approx(5 / 50)
    np.testing.assert_array_equal(design.final_weights, [10.0] * 5)


def test_two_strata_with_one_unit_may_name_each_other_and_chains_end() -> None:
    both = {"valley": "slope", "slope": "valley"}
    design = Design([0, 1], ["valley", "slope"], single_unit="merge", merge_into=both)
    np.testing.assert_array_equal(design.cluster_stratum, [0, 0])
    names = ["a", "b", "c"]
    chain = Design([0, 1, 2, 2], names, single_unit="merge", merge_into={"a": "b", "b": "c"})
    np.testing.assert_array_equal(chain.cluster_stratum, [2] * 4)
    with pytest.raises(ValueError, match="merge_into leads round in a circle from stratum a"):
        Design([0, 1, 2], names, single_unit="merge", merge_into={"a": "b", "b": "c", "c": "a"})


@pytest.mark.parametrize("into", [{}, {"valley": "ridge"}, {"valley": "valley"}])
def test_a_merger_that_leads_nowhere_is_refused_by_name(into: dict[str, str]) -> None:
    with pytest.raises(
        ValueError, match="stratum valley has one unit, and merge_into names no other stratum"
    ):
        _of(strata=[0, 1, 1, 1, 1], single_unit="merge", merge_into=into)


def test_only_strata_with_one_unit_are_merged() -> None:
    design = _of(single_unit="merge", merge_into={"valley": "slope"})
    np.testing.assert_array_equal(design.cluster_stratum, [0, 0, 1, 1, 1])


def test_a_merger_without_a_correction_on_one_side_has_none() -> None:
    design = _of(
        strata=[0, 1, 1, 1, 1],
        sampling_fraction=[0.0, 0.5],
        single_unit="merge",
        merge_into={"valley": "slope"},
    )
    assert design.fractions[1] == 0


def test_post_strata_weights_add_up_to_the_sizes() -> None:
    design = _of(post_strata=[0, 1, 0, 1, 1], post_stratum_sizes=[8, 30], weights=[1.0, 1.0, 3.0, 1.0, 1.0])
    np.testing.assert_allclose(design.final_weights, [2.0, 10.0, 6.0, 10.0, 10.0])


def test_a_variance_is_not_pooled_for_a_post_stratum_with_clusters() -> None:
    with pytest.raises(
        ValueError, match="post-stratum 0 has one unit, and a variance is pooled only in designs without"
    ):
        _of(
            clusters=[0, 1, 0, 0, 1],
            post_strata=[0, 1, 1, 1, 1],
            post_stratum_sizes=[3, 3],
            single_unit="pooled",
        )
