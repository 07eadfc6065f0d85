"""The settings of a survey (``survey.toml``): frozen, complete, every fault reported at once."""

from __future__ import annotations

from enum import StrEnum
from itertools import pairwise
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from plotmap.model.class_rule import Band, ClassEdge, ClassMeasure, ClassRule


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


class _Section(BaseModel):
    """Base of all sections: frozen, no unknown keys."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


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


class BandSetting(_Section):
    """One painted band of ``[classes] bands``; edges in cm of the classes' measure."""

    name: Annotated[str, Field(min_length=1)]
    low_cm: Annotated[float, Field(ge=0, le=1250)]
    high_cm: Annotated[float, Field(gt=0, le=1250)]

    @model_validator(mode="after")
    def _rising(self) -> Self:
        """Refuse a band that ends before it begins."""
        if self.high_cm <= self.low_cm:
            raise ValueError(f"high_cm is {self.high_cm:g}, but must be more than low_cm, {self.low_cm:g} cm")
        return self


class ClassesSection(_Section):
    """``[classes]``: the size classes of the results and the painted bands of the crews, in cm."""

    width_cm: Annotated[float, Field(ge=0.5, le=100)] | None = None
    edges_cm: tuple[Annotated[float, Field(ge=0, le=1250)], ...] = ()
    on: ClassMeasure = ClassMeasure.DIAMETER
    edge: ClassEdge = ClassEdge.LOWER
    bands: tuple[BandSetting, ...] = ()

    @model_validator(mode="after")
    def _one_rule(self) -> Self:
        """Refuse two rules at once, edges that do not rise, and bands that overlap or share a name."""
        if self.width_cm is not None and self.edges_cm:
            raise ValueError("width_cm and edges_cm are both given: keep one of them")
        edges = list(self.edges_cm)
        if edges and (len(edges) < 2 or edges != sorted(set(edges))):  # noqa: PLR2004
            raise ValueError(f"edges_cm is {edges}, but must be at least two rising edges in cm")
        names = [band.name for band in self.bands]
        if len(names) != len(set(names)):
            raise ValueError("two bands have one name: every band needs its own")
        ordered = sorted(self.bands, key=lambda band: band.low_cm)
        for below, above in pairwise(ordered):
            if above.low_cm < below.high_cm:
                raise ValueError(f"bands {below.name} and {above.name} overlap: a stem would be in both")
        return self


class EstimatesSection(_Section):
    """``[estimates]``: what is done about the error of a compartment that has one plot."""

    one_plot_variance: Literal["missing", "pooled"] = "missing"


class CheckSection(_Section):
    """``[check]``: check measurements: what they may differ by, and how stems find their partners."""

    tolerance_mm: Annotated[float, Field(ge=0, le=200)] = 5.0
    tolerance_pct: Annotated[float, Field(ge=0, le=50)] = 1.0
    min_within_pct: Annotated[float, Field(ge=0, le=100)] = 90.0
    bias_mm: Annotated[float, Field(ge=0, le=200)] = 2.0
    match_position_m: Annotated[float, Field(gt=0, le=10)] = 1.0
    match_mm: Annotated[float, Field(gt=0, le=200)] = 30.0


class ShareSection(_Section):
    """``[share]``: read only when results are made for people outside the house."""

    round_sensitive_below: Annotated[int, Field(ge=0, le=100)] = 3


class Settings(_Section):
    """All settings of a survey.

    Attributes
    ----------
    survey, plots, stems, classes, estimates, check, share : section models
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
    check: CheckSection = CheckSection()
    share: ShareSection = ShareSection()

    @property
    def class_rule(self) -> ClassRule:
        """The rule that puts stems into size classes; 5 cm wide where neither width nor edges are given."""
        section = self.classes
        width = section.width_cm if section.width_cm is not None else (None if section.edges_cm else 5.0)
        return ClassRule(width, section.edges_cm, section.on, section.edge)

    @property
    def bands(self) -> tuple[Band, ...]:
        """Painted bands in the order of their sizes, edges in cm of the class rule's measure."""
        ordered = sorted(self.classes.bands, key=lambda band: band.low_cm)
        return tuple(Band(band.name, band.low_cm, band.high_cm) for band in ordered)
