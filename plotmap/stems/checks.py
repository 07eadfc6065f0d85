"""Checks of readings against one another: girths taken for diameters, slipped digits. Nothing is converted."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import polars as pl

from plotmap.model.field_tables import CALIPER, TAPE
from plotmap.model.findings import Findings, finding, findings_of
from plotmap.stems.diameters import stem_text, used_column
from plotmap.stems.section import corrected_name, reading_columns

if TYPE_CHECKING:
    from plotmap.model.settings import StemsSection

_ABOUT_EQUAL = (0.85, 1.25)
"""A girth over the diameter of the same stem is π; in this range it is a diameter itself."""
_STEM_SPREAD, _PLOT_SPREAD = 0.15, 0.12
"""How far a ratio may be from π (of one stem) or from π or 1 / π (of a plot's median) to tell of a mix-up."""
_MIN_PLOT_STEMS, _MIN_AROUND_STEMS, _MIN_HEIGHTS = 5, 20, 5
_MAX_SLENDERNESS = 150.0
"""Height over diameter that a stand of trees cannot have (common practice, no source)."""
_CM_PER_M = 100.0


def reading_checks(stems: pl.DataFrame, homes: pl.DataFrame, settings: StemsSection, file: str) -> Findings:
    """Return what is odd about the readings of stems.

    Parameters
    ----------
    stems : polars.DataFrame
        Stems after `plotmap.stems.diameters.with_diameters`, set aside or not.
    homes : polars.DataFrame
        ``plot`` and ``home``, the compartment it lies in (missing where in none): plots are compared with
        those of their own compartment, since old stands beside young ones are no mix-up.
    settings : StemsSection
        Reads ``max_reading_difference_pct``.
    file : str
        File they come from.

    Returns
    -------
    Findings
        ``girth-like-diameter``, ``diameter-like-girth`` and ``readings-differ``.
    """
    told = _with_told(stems)
    return Findings.join(
        [
            *_of_stems(told, file),
            _differing(told, settings.max_reading_difference_pct, file),
            *_of_plots(told, homes, file),
            _too_slender(told, file),
        ]
    )


def _with_told(stems: pl.DataFrame) -> pl.DataFrame:
    """Add ``told``: what the ratio of girth to caliper reading, as written, says of a stem that has both."""
    ratio = pl.col("girth_cm") / pl.col("raw_caliper_cm")
    return stems.with_columns(ratio.alias("ratio")).with_columns(
        pl.when(pl.col("ratio").is_between(*_ABOUT_EQUAL))
        .then(pl.lit("girth-like-diameter"))
        .when((1 / pl.col("ratio")).is_between(*_around(math.pi, _STEM_SPREAD)))
        .then(pl.lit("diameter-like-girth"))
        .alias("told")
    )


def _around(value: float, spread: float) -> tuple[float, float]:
    """Return the limits a share below and above a value."""
    return value * (1 - spread), value * (1 + spread)


def _of_stems(told: pl.DataFrame, file: str) -> list[Findings]:
    """Find mix-ups on stems that have girth and caliper readings."""
    text = (
        "{}girth {} cm and mean caliper reading {} cm are {} to 1; a girth is 3.14 times the diameter, "
        "so a girth of about {} cm is expected"
    )
    message = pl.format(
        text,
        stem_text(),
        pl.col("girth_cm").round(2),
        pl.col("raw_caliper_cm").round(2),
        pl.col("ratio").round(2),
        (pl.col("raw_caliper_cm") * math.pi).round(1),
    )
    cells = {
        "girth-like-diameter": (pl.lit("girth_cm"), pl.col("girth_cm")),
        "diameter-like-girth": (used_column(told), pl.col("raw_caliper_cm")),
    }
    return [
        findings_of(
            code,
            told.filter(pl.col("told") == code),
            file,
            message,
            plot="plot",
            column=column,
            value=value.round(2).cast(pl.String),
        )
        for code, (column, value) in cells.items()
    ]


def _differing(told: pl.DataFrame, max_pct: float, file: str) -> Findings:
    """Find stems whose largest and smallest diameter differ by too much."""
    girth = pl.when(pl.col("told").is_null()).then("girth_diameter_cm")
    sizes = [pl.col(corrected_name(name)) for name in reading_columns(told)] + [girth]
    spread = told.with_columns(
        pl.max_horizontal(sizes).alias("largest_cm"), pl.min_horizontal(sizes).alias("smallest_cm")
    ).with_columns(
        (
            200
            * (pl.col("largest_cm") - pl.col("smallest_cm"))
            / (pl.col("largest_cm") + pl.col("smallest_cm"))
        ).alias("difference_pct")
    )
    return findings_of(
        "readings-differ",
        spread.filter((pl.col("smallest_cm") > 0) & (pl.col("difference_pct") > max_pct)),
        file,
        pl.format(
            f"{{}}diameters from {{}} to {{}} cm differ by {{}} % of their mean; {max_pct:g} % is allowed",
            stem_text(),
            pl.col("smallest_cm").round(2),
            pl.col("largest_cm").round(2),
            pl.col("difference_pct").round(1),
        ),
        plot="plot",
        column=used_column(told),
        value="reading",
    )


def _of_plots(told: pl.DataFrame, homes: pl.DataFrame, file: str) -> list[Findings]:
    """Find plots whose girths or diameters are off the diameters of their compartment by about π."""
    housed = told.join(homes, on="plot", how="left")
    calipers = housed.filter(pl.col("measured_by") == CALIPER)
    around = (
        calipers.group_by("home")
        .agg(
            pl.col("raw_caliper_cm").median().alias("around_cm"),
            pl.col("raw_caliper_cm").count().alias("stems_around"),
        )
        .filter(pl.col("home").is_not_null() & (pl.col("stems_around") >= _MIN_AROUND_STEMS))
    )
    girths = housed.filter(pl.col("measured_by") == TAPE).with_columns(pl.col("girth_cm") / math.pi)
    return [
        _off_plots("girth-like-diameter", girths, "girth_cm", around, file),
        _off_plots("diameter-like-girth", calipers, "raw_caliper_cm", around, file),
    ]


def _off_plots(code: str, stems: pl.DataFrame, size: str, around: pl.DataFrame, file: str) -> Findings:
    """Find plots whose median size (a diameter in cm) over their compartment's tells of a mix-up."""
    is_girth = code == "girth-like-diameter"
    what = "girths over π" if is_girth else "caliper readings"
    target = 1 / math.pi if is_girth else math.pi
    medians = (
        stems.group_by("plot", "home")
        .agg(pl.col(size).median().alias("median_cm"), pl.col(size).count().alias("stems"), _FIRST_ROW)
        .filter(pl.col("stems") >= _MIN_PLOT_STEMS)
        .join(around, on="home")
        .with_columns((pl.col("median_cm") / pl.col("around_cm")).alias("share"))
    )
    low, high = _around(target, _PLOT_SPREAD)
    return findings_of(
        code,
        medians.filter(pl.col("share").is_between(low, high)),
        file,
        pl.format(
            f"the {what} of {{}} stems have a median of {{}} cm, {{}} times the {{}} cm of the caliper readings of "
            f"its compartment; {low:.2f} to {high:.2f} times tells of a mix-up of girths and diameters",
            "stems",
            pl.col("median_cm").round(1),
            pl.col("share").round(2),
            pl.col("around_cm").round(1),
        ),
        plot="plot",
        compartment="home",
        column="girth_cm" if is_girth else "d1_cm",
        value=pl.col("median_cm").round(1).cast(pl.String),
    )


_FIRST_ROW = pl.col("source_row").min()


def _too_slender(told: pl.DataFrame, file: str) -> Findings:
    """Find girths that would make the trees too slender: of the file, otherwise of single plots."""
    girths = told.filter((pl.col("measured_by") == TAPE) & (pl.col("girth_cm") > 0)).select(
        "plot", "source_row", (pl.col("height_m") * math.pi * _CM_PER_M / pl.col("girth_cm")).alias("slender")
    )
    text = (
        f"the girths of {{}} stems with heights give a median of height over diameter of {{}}; at most "
        f"{_MAX_SLENDERNESS:g} is plausible, so these may be diameters"
    )
    count, middle = girths["slender"].count(), girths.select(pl.col("slender").median()).item()
    if count >= _MIN_HEIGHTS and middle > _MAX_SLENDERNESS:
        message = text.format(count, round(middle))
        return finding("girth-like-diameter", file, message, column="girth_cm", value=str(round(middle)))
    plots = girths.group_by("plot").agg(
        pl.col("slender").median(), pl.col("slender").count().alias("stems"), _FIRST_ROW
    )
    return findings_of(
        "girth-like-diameter",
        plots.filter((pl.col("stems") >= _MIN_HEIGHTS) & (pl.col("slender") > _MAX_SLENDERNESS)),
        file,
        pl.format(text, "stems", pl.col("slender").round(0)),
        plot="plot",
        column="girth_cm",
        value=pl.col("slender").round(0).cast(pl.String),
    )
