"""The settings of a survey (``survey.toml``): frozen, complete, every fault reported at once."""

from __future__ import annotations

import math
from collections.abc import Iterator
from enum import StrEnum
from itertools import pairwise, product
from string import ascii_uppercase
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from plotmap.model.class_rule import Band, ClassEdge, ClassMeasure, ClassRule
from plotmap.model.settings_base import Section as _Section
from plotmap.model.settings_heights import DensitySection, HeightsSection, VolumeSection
from plotmap.model.settings_labels import LabelsSection
from plotmap.model.settings_layout import LayoutSection
from plotmap.model.settings_map import MapSection
from plotmap.model.settings_paper import PaperSection
from plotmap.model.settings_report import ReportSection
from plotmap.model.settings_share import ShareSection
from plotmap.model.settings_thinning import ThinningSection


class Design(StrEnum):
    """How a plot is laid out."""

    CIRCLE = "circle"
    RECTANGLE = "rectangle"
    NESTED = "nested"
    ANGLE_COUNT = "angle-count"
    STRIP = "strip"
    FULL = "full"


ROUND_DESIGNS = (Design.CIRCLE, Design.NESTED)
"""Designs whose overlap with a compartment is known exactly."""


class SlopeRule(StrEnum):
    """Whether radii and sides were laid out level or along the slope."""

    HORIZONTAL = "horizontal"
    GROUND = "ground"


class EdgeRule(StrEnum):
    """What was done where a plot reaches over its compartment's boundary."""

    WHOLE = "whole"
    INSIDE = "inside"
    MIRAGE = "mirage"
    POSITIONS = "positions"


def fitting_designs(edge: EdgeRule) -> tuple[Design, ...]:
    """Return the sample designs that an edge rule has an exact area or a count for."""
    if edge is EdgeRule.POSITIONS:
        return (Design.CIRCLE,)
    return ROUND_DESIGNS if edge is EdgeRule.INSIDE else tuple(Design)


class NorthOf(StrEnum):
    """Which north azimuths were read from."""

    GRID = "grid"
    TRUE = "true"
    MAGNETIC = "magnetic"


class AssignRule(StrEnum):
    """Where a plot's compartment comes from."""

    POSITION = "position"
    RECORDED = "recorded"


class SectionMean(StrEnum):
    """How several caliper readings of one stem become one diameter."""

    ARITHMETIC = "arithmetic"
    GEOMETRIC = "geometric"
    QUADRATIC = "quadratic"


class SurveySection(_Section):
    """``[survey]``: title, CRS, confidence and whose areas totals are taken over."""

    title: str = ""
    crs: str | None = None
    confidence: Annotated[float, Field(ge=0.5, le=0.999)] = 0.95
    areas: Literal["register", "geodesic"] = "register"


class NestSetting(_Section):
    """One ring of ``[plots] nests``: radius in m, and the diameter in cm from which stems count on it."""

    radius_m: Annotated[float, Field(ge=0.5, le=200)]
    min_dbh_cm: Annotated[float, Field(ge=0, le=200)]


class PlotsSection(_Section):
    """``[plots]``: design, size, slope and edges of the plots. Lengths in m, areas in m²."""

    design: Design
    radius_m: Annotated[float, Field(ge=0.5, le=200)] | None = None
    area_m2: Annotated[float, Field(ge=1, le=100_000)] | None = None
    width_m: Annotated[float, Field(ge=0.5, le=200)] | None = None
    nests: tuple[NestSetting, ...] = ()
    baf_m2_per_ha: Annotated[float, Field(ge=0.1, le=60)] | None = None
    slope: SlopeRule = SlopeRule.HORIZONTAL
    edge: EdgeRule = EdgeRule.WHOLE
    assign: AssignRule = AssignRule.POSITION
    azimuth: NorthOf = NorthOf.GRID
    declination_deg: Annotated[float, Field(ge=-180, le=180)] | None = None
    position_error_m: Annotated[float, Field(ge=0, le=1000)] = 0.0

    @model_validator(mode="after")
    def _one_size(self) -> Self:
        """Refuse two sizes, and sizes of another design."""
        if self.radius_m is not None and self.area_m2 is not None:
            raise ValueError("radius_m and area_m2 are both given: keep one of them")
        if self.radius_m is not None and self.design in {Design.RECTANGLE, Design.STRIP}:
            raise ValueError(f"radius_m does not fit design = '{self.design}': give area_m2")
        if self.design is Design.NESTED and not self.nests:
            raise ValueError("design = 'nested' needs nests, as in [{radius_m = 8, min_dbh_cm = 12}, …]")
        radii = [nest.radius_m for nest in self.nests]
        smallest = [nest.min_dbh_cm for nest in self.nests]
        if radii != sorted(set(radii)) or smallest != sorted(set(smallest)):
            raise ValueError(
                "nests must be in order: every ring wider and for thicker stems than the one before"
            )
        return self

    @model_validator(mode="after")
    def _one_edge(self) -> Self:
        """Refuse edge rules that the design has no exact area for, and north without its declination."""
        if (
            self.design in {Design.RECTANGLE, Design.STRIP, Design.ANGLE_COUNT}
            and self.edge is EdgeRule.INSIDE
        ):
            raise ValueError(
                f"edge = 'inside' does not fit design = '{self.design}': use 'whole' or 'mirage'"
            )
        if self.edge is EdgeRule.POSITIONS and self.design is not Design.CIRCLE:
            raise ValueError("edge = 'positions' needs design = 'circle'")
        if self.edge is EdgeRule.POSITIONS and self.assign is AssignRule.RECORDED:
            raise ValueError("edge = 'positions' needs assign = 'position': every stem goes where it stands")
        if self.azimuth is NorthOf.MAGNETIC and self.declination_deg is None:
            raise ValueError(
                "azimuth = 'magnetic' needs declination_deg (degrees, east of true north positive)"
            )
        if self.azimuth is not NorthOf.MAGNETIC and self.declination_deg is not None:
            raise ValueError("declination_deg is only for azimuth = 'magnetic'")
        return self


class StemsSection(_Section):
    """``[stems]``: how readings become diameters. Diameters in cm, shares in per cent."""

    breast_height_m: Annotated[float, Field(ge=1.0, le=1.6)] = 1.3
    section: SectionMean = SectionMean.ARITHMETIC
    bark: Literal["over", "under"] = "over"
    min_dbh_cm: Annotated[float, Field(ge=0, le=200)] = 0.0
    count: Literal["live", "all"] = "live"
    rounding: Literal["none", "down", "nearest"] = "none"
    check_days: Annotated[int, Field(ge=1, le=3650)] = 30
    max_reading_difference_pct: Annotated[float, Field(gt=0, le=100)] = 25.0
    interpolate_checks: bool = False
    max_gain_off_pct: Annotated[float, Field(gt=0, le=20)] = 2.0
    max_zero_move_mm: Annotated[float, Field(gt=0, le=50)] = 3.0
    max_gain_move_pct: Annotated[float, Field(gt=0, le=20)] = 1.0


class BandSetting(_Section):
    """One painted band of ``[classes] bands``; edges and mean in cm of the classes' measure."""

    name: Annotated[str, Field(min_length=1)]
    low_cm: Annotated[float, Field(ge=0, le=1250)]
    high_cm: Annotated[float, Field(gt=0, le=1250)] | None = None
    mean_cm: Annotated[float, Field(gt=0, le=1250)] | None = None
    letter: Annotated[str, Field(min_length=1, max_length=2)] | None = None
    colour: Annotated[str, Field(pattern="^#[0-9a-fA-F]{6}$")] | None = None

    @model_validator(mode="after")
    def _rising(self) -> Self:
        """Refuse a band that ends before it begins, or that is open above without a stated mean."""
        if self.high_cm is None:
            if self.mean_cm is None:
                raise ValueError("high_cm is missing: give it, or mean_cm of a band that is open above")
            if self.mean_cm <= self.low_cm:
                raise ValueError(
                    f"mean_cm is {self.mean_cm:g}, but must be more than low_cm, {self.low_cm:g} cm"
                )
        elif self.mean_cm is not None:
            raise ValueError("mean_cm is only for a band that is open above: leave it out, or high_cm")
        elif self.high_cm <= self.low_cm:
            raise ValueError(f"high_cm is {self.high_cm:g}, but must be more than low_cm, {self.low_cm:g} cm")
        return self


class ClassesSection(_Section):
    """``[classes]``: the size classes of the results and the painted bands of the crews, in cm."""

    width_cm: Annotated[float, Field(ge=0.5, le=100)] | None = None
    edges_cm: tuple[Annotated[float, Field(ge=0, le=1250)], ...] = ()
    on: ClassMeasure = ClassMeasure.DIAMETER
    edge: ClassEdge = ClassEdge.LOWER
    top_mean_cm: Annotated[float, Field(gt=0, le=1250)] | None = None
    bands: tuple[BandSetting, ...] = ()

    @property
    def rule(self) -> ClassRule:
        """The rule that puts stems into size classes; 5 cm wide where neither width nor edges are given."""
        width = self.width_cm if self.width_cm is not None else (None if self.edges_cm else 5.0)
        return ClassRule(width, self.edges_cm, self.on, self.edge)

    @model_validator(mode="after")
    def _one_rule(self) -> Self:
        """Refuse two rules at once, edges that do not rise, and a mean of an open class that is none."""
        if self.width_cm is not None and self.edges_cm:
            raise ValueError("width_cm and edges_cm are both given: keep one of them")
        edges = list(self.edges_cm)
        if edges and (len(edges) < 2 or edges != sorted(set(edges))):  # noqa: PLR2004
            raise ValueError(f"edges_cm is {edges}, but must be at least two rising edges in cm")
        if self.top_mean_cm is None:
            return self
        if not edges:
            raise ValueError(
                "top_mean_cm is of the open class above the last edge: give edges_cm, or leave it out"
            )
        if self.top_mean_cm <= edges[-1]:
            raise ValueError(
                f"top_mean_cm is {self.top_mean_cm:g}, but must be more than the last edge, {edges[-1]:g} cm"
            )
        return self

    @model_validator(mode="after")
    def _apart(self) -> Self:
        """Refuse bands that overlap, share a name or letter, or are named like a size class."""
        names = [band.name for band in self.bands]
        if len(names) != len(set(names)):
            raise ValueError("two bands have one name: every band needs its own")
        marks = names + [band.letter for band in self.bands if band.letter and band.letter != band.name]
        if twice := sorted({mark for mark in marks if marks.count(mark) > 1}):
            raise ValueError(f"the letter {twice[0]} stands for two bands: every band needs its own")
        for band in self.bands:
            if self.rule.edges_of_label(band.name):
                raise ValueError(
                    f"band {band.name} is named like a size class, so a tally could mean either: name it otherwise"
                )
        ordered = sorted(self.bands, key=lambda band: band.low_cm)
        for below, above in pairwise(ordered):
            if below.high_cm is None or above.low_cm < below.high_cm:
                raise ValueError(f"bands {below.name} and {above.name} overlap: a stem would be in both")
        return self


class EstimatesSection(_Section):
    """``[estimates]``: what plots are samples of, what is done about single plots, and the kind of the intervals."""

    target_error_pct: Annotated[float, Field(gt=0, le=100)] = 10.0
    sample_of: Literal["compartment", "stratum", "survey"] = "compartment"
    finite_population: bool = False
    one_plot_variance: Literal["missing", "refuse", "pooled", "merge"] = "missing"
    interval: Literal["auto", "t", "log"] = "auto"
    merge_into: dict[str, str] = Field(default_factory=dict)
    few_plots: Literal["missing", "synthetic", "composite"] = "missing"

    @model_validator(mode="after")
    def _mergers(self) -> Self:
        """Refuse mergers that nobody asked for, that are missing, or that lead round in a circle."""
        if (self.one_plot_variance == "merge") != bool(self.merge_into):
            raise ValueError(
                "one_plot_variance = 'merge' and merge_into go together, as in merge_into = { 7B = \"7A\" }"
            )
        for first, other in self.merge_into.items():
            trail = [first]
            while other not in trail:
                trail.append(other)
                if other not in self.merge_into:
                    break
                other = self.merge_into[other]  # noqa: PLW2901
            else:
                if other == trail[-1] or len(trail) - trail.index(other) > 2:  # noqa: PLR2004
                    raise ValueError(
                        f"merge_into leads from {first} round in a circle: name one that has two plots or more"
                    )
        return self


class CheckSection(_Section):
    """``[check]``: check measurements: what they may differ by, and how stems find their partners."""

    tolerance_mm: Annotated[float, Field(ge=0, le=200)] = 5.0
    tolerance_pct: Annotated[float, Field(ge=0, le=50)] = 1.0
    min_within_pct: Annotated[float, Field(ge=0, le=100)] = 90.0
    bias_mm: Annotated[float, Field(ge=0, le=200)] = 2.0
    match_position_m: Annotated[float, Field(gt=0, le=10)] = 1.0
    match_mm: Annotated[float, Field(gt=0, le=200)] = 30.0


class CompareSection(_Section):
    """``[compare]``: what two surveys may differ by, of the new one. Lengths in m and cm, shares in %."""

    pair_distance_m: Annotated[float, Field(gt=0, le=1000)] = 15.0
    boundary_pct: Annotated[float, Field(ge=0, le=100)] = 1.0
    max_growth_cm_per_year: Annotated[float, Field(gt=0, le=10)] = 2.0
    max_shrinking_cm: Annotated[float, Field(ge=0, le=20)] = 0.5


class Settings(_Section):
    """All settings of a survey.

    Attributes
    ----------
    survey, plots, stems, classes, estimates, heights, density, volume : section models
        See each section.
    check, compare, thinning, map, share, labels, paper, report : section models
        See each section.
    columns : dict of str to dict of str to str
        For each table, own headings and the plotmap columns they stand for.
    """

    survey: SurveySection = SurveySection()
    columns: dict[str, dict[str, str]] = Field(default_factory=dict)
    plots: PlotsSection
    stems: StemsSection = StemsSection()
    classes: ClassesSection = ClassesSection()
    estimates: EstimatesSection = EstimatesSection()
    heights: HeightsSection = HeightsSection()
    density: DensitySection = DensitySection()
    volume: VolumeSection = VolumeSection()
    check: CheckSection = CheckSection()
    compare: CompareSection = CompareSection()
    layout: LayoutSection = LayoutSection()
    thinning: ThinningSection = ThinningSection()
    map: MapSection = MapSection()
    share: ShareSection = ShareSection()
    labels: LabelsSection = LabelsSection()
    paper: PaperSection = PaperSection()
    report: ReportSection = ReportSection()

    @model_validator(mode="after")
    def _one_bark(self) -> Self:
        """Refuse volume equations for diameters that the results do not have."""
        for entry in self.volume.equations:
            if entry.bark != self.stems.bark:
                raise ValueError(
                    f"[volume] the equation of {entry.species} takes diameters {entry.bark} bark, but [stems] bark "
                    f"is '{self.stems.bark}': bring both to one basis"
                )
        return self

    @property
    def class_rule(self) -> ClassRule:
        """The rule that puts stems into size classes; 5 cm wide where neither width nor edges are given."""
        return self.classes.rule

    @property
    def bands(self) -> tuple[Band, ...]:
        """Painted bands in the order of their sizes, edges in cm of the class rule's measure.

        Bands without a letter of their own get A, B, …, Z, AA, … in that order; letters and names that other
        bands have are passed over.
        """
        ordered = sorted(self.classes.bands, key=lambda band: band.low_cm)
        taken = {mark for band in ordered for mark in (band.name, band.letter)}
        free = (letter for letter in band_letters() if letter not in taken)
        return tuple(
            Band(
                band.name,
                band.low_cm,
                math.inf if band.high_cm is None else band.high_cm,
                band.mean_cm,
                band.letter or next(free),
                band.colour,
            )
            for band in ordered
        )


def band_letters() -> Iterator[str]:
    """Yield A to Z, then AA to ZZ."""
    yield from ascii_uppercase
    yield from (first + second for first, second in product(ascii_uppercase, repeat=2))
