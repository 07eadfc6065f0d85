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


class SlopeRule(StrEnum):
    """Whether radii and sides were laid out level or along the slope."""

    HORIZONTAL = "horizontal"
    GROUND = "ground"


class EdgeRule(StrEnum):
    """What was done where a plot reaches over its compartment's boundary."""

    WHOLE = "whole"
    INSIDE = "inside"
    MIRAGE = "mirage"


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


class PlotsSection(_Section):
    """``[plots]``: design, size, slope and edges of the plots. Lengths in m, areas in m²."""

    design: Design
    radius_m: Annotated[float, Field(ge=0.5, le=200)] | None = None
    area_m2: Annotated[float, Field(ge=1, le=100_000)] | None = None
    slope: SlopeRule = SlopeRule.HORIZONTAL
    edge: EdgeRule = EdgeRule.WHOLE
    assign: AssignRule = AssignRule.POSITION

    @model_validator(mode="after")
    def _one_size(self) -> Self:
        """Refuse two sizes, a rectangle by radius, and overlaps of what is no circle."""
        if self.radius_m is not None and self.area_m2 is not None:
            raise ValueError("radius_m and area_m2 are both given: keep one of them")
        if self.design is Design.RECTANGLE and self.radius_m is not None:
            raise ValueError("radius_m does not fit design = 'rectangle': give area_m2")
        if self.design is Design.RECTANGLE and self.edge is EdgeRule.INSIDE:
            raise ValueError("edge = 'inside' needs design = 'circle': use 'whole' or 'mirage'")
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


class ShareSection(_Section):
    """``[share]``: read only when results are made for people outside the house."""

    round_sensitive_below: Annotated[int, Field(ge=0, le=100)] = 3


class Settings(_Section):
    """All settings of a survey.

    Attributes
    ----------
    survey, plots, stems, classes, estimates, share : section models
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
