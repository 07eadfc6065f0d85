"""Estimates from samples, on plain arrays. Knows no trees and no geography."""

from plotmap.statistics.allocation import allocate, stratified_error_pct, stratified_plots_needed
from plotmap.statistics.change import ChangeError, change_error
from plotmap.statistics.count_limits import poisson_limits
from plotmap.statistics.curves import CurveFit, CurveForm, better_curve, fit_curves
from plotmap.statistics.decisions import chance_above, plots_to_decide
from plotmap.statistics.design_estimates import DesignEstimate, mean, ratio, total
from plotmap.statistics.designs import Design
from plotmap.statistics.dip import dip_of_classes, dip_p
from plotmap.statistics.estimates import (
    Estimate,
    combine,
    mean_estimate,
    pooled_variance,
    ratio_estimate,
    ratio_of_means,
)
from plotmap.statistics.fit_tests import anderson_darling, cell_sums, chi_square, pooled_cells
from plotmap.statistics.grouped import LinearDensity, linear_density
from plotmap.statistics.intervals import sampling_error_pct, t_half_width, t_interval
from plotmap.statistics.local_difference import LocalVariance, local_variance
from plotmap.statistics.products import Strata, product_of_totals
from plotmap.statistics.resampling import rescaled_weights
from plotmap.statistics.sample_size import plots_needed, stratified_plots
from plotmap.statistics.skewed_intervals import (
    IntervalKind,
    IntervalWord,
    gamma_interval,
    log_interval,
    nonnegative_interval,
)
from plotmap.statistics.small_areas import AreaModel, area_model
from plotmap.statistics.stopped_paths import Paths, first_reach
from plotmap.statistics.weibull import WeibullFit, fit_weibull, weibull_scores
from plotmap.statistics.weibull_terms import Sizes, log_mass, sizes_of
from plotmap.statistics.whole_numbers import largest_remainder, small_fractions

__all__ = [
    "AreaModel",
    "ChangeError",
    "CurveFit",
    "CurveForm",
    "Design",
    "DesignEstimate",
    "Estimate",
    "IntervalKind",
    "IntervalWord",
    "LinearDensity",
    "LocalVariance",
    "Paths",
    "Sizes",
    "Strata",
    "WeibullFit",
    "allocate",
    "anderson_darling",
    "area_model",
    "better_curve",
    "cell_sums",
    "chance_above",
    "change_error",
    "chi_square",
    "combine",
    "dip_of_classes",
    "dip_p",
    "first_reach",
    "fit_curves",
    "fit_weibull",
    "gamma_interval",
    "largest_remainder",
    "linear_density",
    "local_variance",
    "log_interval",
    "log_mass",
    "mean",
    "mean_estimate",
    "nonnegative_interval",
    "plots_needed",
    "plots_to_decide",
    "poisson_limits",
    "pooled_cells",
    "pooled_variance",
    "product_of_totals",
    "ratio",
    "ratio_estimate",
    "ratio_of_means",
    "rescaled_weights",
    "sampling_error_pct",
    "sizes_of",
    "small_fractions",
    "stratified_error_pct",
    "stratified_plots",
    "stratified_plots_needed",
    "t_half_width",
    "t_interval",
    "total",
    "weibull_scores",
]
