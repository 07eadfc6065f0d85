"""The tool that lays out sample plots before the field."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from plotmap.model.stages import LAYOUT_STAGES
from plotmap.tools.declaration import Parameter, ParameterKind, Progress, Report, Tool
from plotmap.tools.findings_text import counted
from plotmap.tools.result_places import refuse_file_name

_SHOWN = 8
_CAUTION = (
    "Plots stay where they are: one that cannot be reached safely, or without a right of access, is unvisited, and "
    "never moved to a nicer place. Lengths of walks are straight lines and know no terrain. Steep ground, felling "
    "and dead trees are dangerous."
)


def _layout(given: Mapping[str, Any], progress: Progress) -> Report:
    """Lay out plots."""
    from plotmap.workflow import lay_out  # noqa: PLC0415

    refuse_file_name(given.get("out"))
    layout, findings, folder = lay_out(given["survey"], given.get("out"), progress)
    if layout is None:
        return Report(
            ok=False,
            findings=findings,
            lines=("Errors in the compartments: no plots were laid out, and no earlier layout was changed.",),
        )
    lines = (*_numbers(layout), *_places(layout), *_walks(layout), *_written(folder), _CAUTION)
    return Report(ok=True, findings=findings, lines=lines, findings_written=True)


def _numbers(layout: Any) -> Iterator[str]:
    """Yield how many plots are needed, can be done, and were laid out, with their errors."""
    survey, *parts = layout.sample_sizes.iter_rows(named=True)
    confidence = f"{100 * layout.settings.survey.confidence:g} % confidence"
    yield f"{survey['area_ha']:,.1f} ha net, {counted(survey['n_planned'], 'plot')} laid out:"
    if survey["cv_pct"] is not None:
        yield f"  variation between plots {survey['cv_pct']:.1f} % ({survey['cv_from']})"
    if survey["n_for_target"] is not None:
        full = survey["n_fitting"] is not None and survey["n_for_target"] >= survey["n_fitting"] - len(parts)
        count = " (all that fit: as good as a full count)" if full else ""
        yield (
            f"  for {survey['target_error_pct']:g} % at {confidence}: "
            f"{counted(round(survey['n_for_target']), 'plot')}{count}"
        )
    if survey["n_from_crew_days"] is not None:
        error = _error(survey["error_from_crew_days_pct"])
        yield f"  the crew-days give {counted(round(survey['n_from_crew_days']), 'plot')}: {error}"
    yield f"  plots laid out: {_error(survey['error_pct'])}"
    for row in parts[-1:]:
        words = f"{counted(row['n_planned'], 'plot')}, {_error(row['error_pct'])}"
        yield f"  the median compartment ({row['name']}, {row['area_ha']:.1f} ha): {words}"
    few = layout.planned_compartments
    few = few.loc[few["status"].isin(["few plots", "no plots"]), "compartment"].tolist()
    if few:
        more = f" and {len(few) - _SHOWN} more" if len(few) > _SHOWN else ""
        yield (
            f"  {counted(len(few), 'compartment')} under {layout.settings.layout.enough_plots}: "
            f"{', '.join(few[:_SHOWN])}{more}"
        )


def _error(error_pct: float | None) -> str:
    """Return an expected sampling error in words."""
    return (
        "no sampling error can be told" if error_pct is None else f"sampling error {error_pct:.1f} % expected"
    )


def _places(layout: Any) -> Iterator[str]:
    """Yield how the plots lie."""
    survey = layout.sample_sizes.row(0, named=True)
    rules = layout.settings.layout
    yield (
        f"  {rules.method.value}, seed {rules.seed}: {survey['n_wanted']:.1f} wanted, {survey['n_planned']} got; "
        f"one for {1 / survey['density_per_ha']:.2f} ha, as if {survey['spacing_m']:.1f} m apart on a square grid"
    )
    plots = layout.planned_plots
    main = plots[plots["role"] == "main"]
    touching = int((main["touches_boundary"] == "yes").sum())
    if touching:
        yield f"  {counted(touching, 'plot')} at a boundary: edge_task says what the crew does there"
    if survey["n_reserve"]:
        yield f"  {counted(survey['n_reserve'], 'reserve plot')}, to be taken in order"


def _walks(layout: Any) -> Iterator[str]:
    """Yield the lengths of the walks."""
    walks = layout.walks
    if walks.height:
        yield (
            f"  {counted(walks.height, 'day')}: {walks['walk_km'].sum():.1f} km in the order given, "
            f"{walks['walk_km_by_name'].sum():.1f} km in that of the names"
        )


def _written(folder: Path) -> list[str]:
    """Return what was written."""
    return [
        f"Results in {folder}:",
        "  planned.gpx   waypoints and a route a day; planned.kml the same for a globe",
        "  planned.gpkg  layers for a GIS or a field app",
        *(
            ["  compartment_maps.pdf  a map for each compartment with its plots, to print"]
            if (folder / "compartment_maps.pdf").exists()
            else []
        ),
        "  planned.csv   as plots.csv of the survey, to be filled in",
        "  tables/       the tables as CSV; layout_design proves how plots were drawn",
    ]


LAYOUT = Tool(
    "layout",
    "Lay out sample plots before the field: how many, where, in which order.",
    "Reads survey.toml (its section [layout]) and the compartments; plots and stems need not be there. Works out how "
    "many plots a target error needs and what the crew-days give, puts them on the ground by a seeded design, and "
    "writes them for receivers, field apps and the survey folder, with a map of each compartment to "
    "print. The same seed gives the same plots.",
    (
        Parameter(
            "survey",
            ParameterKind.FOLDER_IN,
            "Survey folder: it holds survey.toml and compartments.",
            required=True,
        ),
        Parameter("out", ParameterKind.FOLDER_OUT, "Result folder. Default: layout in the survey folder."),
    ),
    LAYOUT_STAGES,
    _layout,
)
