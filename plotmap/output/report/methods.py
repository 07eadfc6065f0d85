"""How the figures were made, in plain words, and of which files."""

from __future__ import annotations

from collections.abc import Iterator
from importlib.metadata import version
from typing import TYPE_CHECKING

import pyproj

from plotmap.model.labels import class_rule_words
from plotmap.model.settings import Design
from plotmap.output.report.blocks import Facts, Head, Section, TableBlock
from plotmap.output.report.figures import pct_text, whole
from plotmap.spatial.crs import name_of

if TYPE_CHECKING:
    from plotmap.model.labels import Labels
    from plotmap.model.settings import PlotsSection, Settings
    from plotmap.model.survey import Stand


def methods_section(stand: Stand, labels: Labels) -> Section:
    """Return methods and conventions as pairs of a term and a sentence."""
    settings = stand.settings
    pairs = (
        (labels("report.method_design"), _design_words(stand, labels)),
        (labels("report.method_slope"), _slope(settings, labels)),
        (labels("report.method_edge"), labels(_EDGES[settings.plots.edge])),
        (labels("report.method_assign"), labels(_ASSIGN[settings.plots.assign])),
        (labels("report.method_stems"), _stems(settings, labels)),
        (labels("report.method_section"), _diameters(stand, labels)),
        (labels("report.method_bark"), labels(_BARK[settings.stems.bark])),
        (labels("report.method_classes"), _capital(class_rule_words(labels, settings.class_rule)) + "."),
        *_tallies(stand, labels),
        (labels("report.method_estimate"), _estimates(settings, labels)),
        (labels("report.method_totals"), _totals(settings, labels)),
        (labels("report.method_limits"), _limits(settings, labels)),
        (labels("report.method_areas"), labels(_AREAS[settings.survey.areas])),
        *_volumes(stand, labels),
        (labels("report.method_crs"), _crs_name(stand)),
        (labels("report.method_version"), f"plotmap {version('plotmap')}"),
    )
    return Section("methods", labels("report.methods"), (Facts(pairs),))


_EDGES = {
    "whole": "report.edge_whole",
    "inside": "report.edge_inside",
    "mirage": "report.edge_mirage",
    "positions": "report.edge_positions",
}
_ASSIGN = {"position": "report.assign_position", "recorded": "report.assign_recorded"}
_BARK = {"over": "report.bark_over", "under": "report.bark_under"}
_AREAS = {"register": "report.areas_register", "geodesic": "report.areas_geodesic"}
_SECTIONS = {
    "arithmetic": "report.section_arithmetic",
    "geometric": "report.section_geometric",
    "quadratic": "report.section_quadratic",
}
_SAMPLES = {
    "compartment": "report.sample_of_compartment",
    "stratum": "report.sample_of_stratum",
    "survey": "report.sample_of_survey",
}
_ONE_PLOT = {
    "missing": "report.one_plot_missing",
    "refuse": "report.one_plot_refuse",
    "pooled": "report.one_plot_pooled",
    "merge": "report.one_plot_merge",
}
_LIMITS = {"auto": "report.limits_auto", "t": "report.limits_t", "log": "report.limits_log"}
_OWN_SIZE = {
    Design.CIRCLE: "report.design_circle_own",
    Design.RECTANGLE: "report.design_rectangle_own",
    Design.STRIP: "report.design_strip_own",
    Design.ANGLE_COUNT: "report.design_angle_count_own",
}


def inputs_section(stand: Stand, labels: Labels) -> Section:
    """Return the files that were read with their hashes."""
    rows = tuple((one.name, whole(one.size_bytes), one.sha256) for one in stand.inputs)
    heads = (
        Head(labels("report.input_file"), 2.2),
        Head(labels("report.input_size"), 1.2, numeric=True),
        Head(labels("report.input_hash"), 5.0),
    )
    title = labels("report.inputs_title")
    return Section("inputs", title, (TableBlock(title, heads, rows, is_quiet=True),))


def _design_words(stand: Stand, labels: Labels) -> str:
    """Return what the plots are, and which other designs are among them."""
    said = _capital(_design(stand.settings.plots, labels)) + "."
    found = sorted({str(word) for word in stand.plots["design"].dropna()})
    if len(found) > 1:
        designs = ", ".join(labels.word(word) for word in found)
        said += " " + labels("report.designs_mixed", designs=designs)
    return said


def _design(plots: PlotsSection, labels: Labels) -> str:
    """Return what the settings say of the plots."""
    design = plots.design
    if design is Design.FULL:
        return labels("report.design_full")
    if design is Design.NESTED:
        rings = ", ".join(
            labels("report.design_ring", radius=f"{ring.radius_m:g}", dbh=f"{ring.min_dbh_cm:g}")
            for ring in plots.nests
        )
        return labels("report.design_nested", rings=rings)
    sizes = {
        Design.ANGLE_COUNT: ("report.design_angle_count", "factor", plots.baf_m2_per_ha),
        Design.CIRCLE: ("report.design_circle", "radius", plots.radius_m),
        Design.RECTANGLE: ("report.design_rectangle", "area", plots.area_m2),
        Design.STRIP: ("report.design_strip", "area", plots.area_m2),
    }
    key, place, size = sizes[design]
    return labels(_OWN_SIZE[design]) if size is None else labels(key, **{place: f"{size:g}"})


def _slope(settings: Settings, labels: Labels) -> str:
    """Return what was done about slopes."""
    return labels("report.slope_ground" if settings.plots.slope == "ground" else "report.slope_horizontal")


def _stems(settings: Settings, labels: Labels) -> str:
    """Return which stems count."""
    key = "report.stems_all" if settings.stems.count == "all" else "report.stems_live"
    return labels(key, dbh=f"{settings.stems.min_dbh_cm:g}", height=f"{settings.stems.breast_height_m:g}")


def _diameters(stand: Stand, labels: Labels) -> str:
    """Return how readings become diameters."""
    stems = stand.settings.stems
    said = [labels(_SECTIONS[stems.section])]
    if stems.rounding == "down":
        said.append(labels("report.rounding_down"))
    said.append(labels("report.corrected" if stand.instrument_log.height else "report.not_corrected"))
    return " ".join(said)


def _tallies(stand: Stand, labels: Labels) -> Iterator[tuple[str, str]]:
    """Yield what was done with stems that were tallied, where some were."""
    if stand.tallied.height:
        yield labels("report.method_tallies"), labels("report.tallies_are")


def _estimates(settings: Settings, labels: Labels) -> str:
    """Return how the figures of a compartment are made."""
    said = labels("report.estimate_is")
    return f"{said} {labels('report.finite')}" if settings.estimates.finite_population else said


def _totals(settings: Settings, labels: Labels) -> str:
    """Return how totals are made, and what becomes of single plots in them."""
    estimates = settings.estimates
    return f"{labels(_SAMPLES[estimates.sample_of])} {labels(_ONE_PLOT[estimates.one_plot_variance])}"


def _limits(settings: Settings, labels: Labels) -> str:
    """Return what limits are and what they hold."""
    pct = pct_text(100 * settings.survey.confidence)
    return " ".join(
        [
            labels(_LIMITS[settings.estimates.interval], pct=pct),
            labels("report.limits_sides"),
            labels("report.limits_hold"),
        ]
    )


def _volumes(stand: Stand, labels: Labels) -> Iterator[tuple[str, str]]:
    """Yield how volumes are made, where there are any."""
    if stand.volumes.height:
        yield labels("report.method_heights"), labels("report.heights_are")


def _crs_name(stand: Stand) -> str:
    """Return the name of the reference system."""
    return name_of(pyproj.CRS.from_user_input(stand.crs))


def _capital(words: str) -> str:
    """Return words with a capital first letter."""
    return words[:1].upper() + words[1:]
