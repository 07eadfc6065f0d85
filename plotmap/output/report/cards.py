"""What the card of each compartment says."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
import polars as pl

from plotmap.model.result_tables import (
    COMPARTMENT_RESULTS,
    FULL_COUNT,
    NO_PLOTS,
    ONE_PLOT,
    PLOT_RESULTS,
    SPECIES_TOTAL_RESULTS,
)
from plotmap.output.report.blocks import Head, TableBlock
from plotmap.output.report.class_chart import ClassChart
from plotmap.output.report.classes import class_charts
from plotmap.output.report.figures import Estimate, column_texts, estimates, pct_text, texts, whole
from plotmap.output.report.own_words import measured_words, modelled_words
from plotmap.output.report.volumes import compartment_volumes
from plotmap.output.webmap.figures import decimals_of, numbers
from plotmap.output.webmap.notes import dates
from plotmap.output.webmap.themes import LARGE_ERROR_HATCH, hatches

if TYPE_CHECKING:
    from plotmap.model.labels import Labels
    from plotmap.model.survey import Stand

FIGURES = ("basal_area_m2_per_ha", "stems_per_ha", "basal_area_m2_total", "stems_total")
_SPECIES_MOST, _PLOTS_MOST = 6, 8
_FEW_PLOTS = 5
_STEEP_PCT = 40.0
"""Slope from which on a card warns of it (our own, no source)."""


@dataclass(frozen=True, slots=True)
class Card:
    """What is said of one compartment.

    Attributes
    ----------
    row : int
        Its row among the compartments.
    heading, base, status : str
        Number and name; stratum, area and days; what the figures rest on.
    figures : TableBlock or None
        Figures with limits, diameters, error, plots needed; None without plots.
    chart : ClassChart or None
        None without classes; `no_chart` says why.
    no_chart : str
        Why there is no chart; empty where there is one, and without plots.
    species : TableBlock or None
        Species with their share of the basal area, the commonest first.
    plots : TableBlock or None
        Its plots.
    cautions : tuple of str
        What to be careful with here.
    """

    row: int
    heading: str
    base: str
    status: str
    figures: TableBlock | None
    chart: ClassChart | None
    no_chart: str
    species: TableBlock | None
    plots: TableBlock | None
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Common:
    """Columns of the compartments as texts, made once for all cards."""

    rows: list[dict[str, Any]]
    figures: list[list[Estimate]]
    texts: dict[str, list[str]]
    large: list[bool]


def card_heading(compartment: str, name: str) -> str:
    """Return number and name of a compartment, the name only where it says more."""
    return compartment if name in ("", compartment) else f"{compartment} · {name}"


def cards(stand: Stand, labels: Labels) -> Iterator[Card]:
    """Yield the card of each compartment, in the order of the compartments.

    Parameters
    ----------
    stand : Stand
        Everything that was computed.
    labels : Labels
        Words of the survey.
    """
    common = _common(stand, labels)
    charts, species, plots = class_charts(stand, labels), _species(stand, labels), _plots(stand, labels)
    days, steep, models = _days(stand, labels), _steep(stand), modelled_words(stand, labels)
    findings, needed = _findings(stand), _plots_needed(stand, labels)
    heads = _figure_heads(stand, labels)
    for row, cells in enumerate(common.rows):
        name = str(cells["compartment"])
        is_known, chart = cells["status"] != NO_PLOTS, charts.get(name)
        n_findings = findings.get(name, 0)
        facts = [*_facts(common, row, labels), *needed.get(name, ())]
        yield Card(
            row=row,
            heading=card_heading(name, _text(cells["name"])),
            base=" · ".join([*_base(cells, common.texts["area_ha"][row], labels), *days.get(name, ())]),
            status=_status(cells, labels),
            figures=_figures([column[row] for column in common.figures], facts, heads, labels)
            if is_known
            else None,
            chart=chart,
            no_chart=labels("report.no_classes") if is_known and chart is None else "",
            species=species.get(name),
            plots=plots.get(name),
            cautions=(
                *_cautions(common, row, labels),
                *([labels("report.card_steep", pct=steep[name])] if name in steep else []),
                *([models[name]] if name in models else []),
                *([labels.count("report.card_findings", n_findings)] if n_findings else []),
            ),
        )


def _figure_heads(stand: Stand, labels: Labels) -> tuple[Head, ...]:
    """Return the columns of the figures."""
    limits = labels("report.limits", pct=pct_text(100 * stand.settings.survey.confidence))
    return (
        Head(labels("report.figure"), 3.2),
        Head(labels("report.estimate"), 1.6, numeric=True),
        Head(limits, 2.7, numeric=True),
    )


def _figures(
    figures: list[Estimate], facts: list[tuple[str, str, str]], heads: tuple[Head, ...], labels: Labels
) -> TableBlock:
    """Return the figures as a table: with limits, also as ± where they are even, then those without."""
    rows = [
        (
            f"{one.title} ({one.unit})" if one.unit else one.title,
            one.value,
            " · ".join(part for part in (one.half, one.limits) if part) or one.why,
        )
        for one in figures
    ]
    rows += facts
    return TableBlock(labels("report.found"), heads, tuple(rows), is_quiet=True)


def _common(stand: Stand, labels: Labels) -> _Common:
    """Return what is made of whole columns."""
    frame = stand.compartments
    status = frame["status"].astype(str).tolist()
    columns = [estimates(frame, COMPARTMENT_RESULTS, name, status, labels) for name in FIGURES]
    if volumes := compartment_volumes(stand, labels):
        columns.insert(2, volumes)
    named = frame[["compartment", "name", "stratum", "area_source", "status", "n_plots", "n_trees"]]
    large = hatches(frame, stand.settings.map.large_error_pct) == LARGE_ERROR_HATCH
    return _Common(
        pd.DataFrame(named).to_dict("records"),  # type: ignore[arg-type]
        columns,
        {
            name: column_texts(frame, COMPARTMENT_RESULTS[name])
            for name in ("area_ha", "dg_cm", "mean_dbh_cm", "sampling_error_pct")
        },
        large.tolist(),
    )


def _base(cells: dict[str, Any], area: str, labels: Labels) -> list[str]:
    """Return stratum and area."""
    stratum = _text(cells["stratum"])
    source = labels.word(_text(cells["area_source"]))
    said = labels("report.area_of", area=area, source=source) if area else ""
    return [part for part in (labels("report.stratum", name=stratum) if stratum else "", said) if part]


def _status(cells: dict[str, Any], labels: Labels) -> str:
    """Return what the figures of a compartment rest on, with how many stems were counted."""
    status = cells["status"]
    if status == NO_PLOTS:
        return labels("report.card_no_plots")
    if status == FULL_COUNT:
        said = labels("report.card_full_count")
    elif status == ONE_PLOT:
        said = labels("report.card_one_plot")
    else:
        plots = labels.count("words.plots", int(cells["n_plots"]))
        said = labels("report.card_estimated", plots=plots)
    title = labels.title(COMPARTMENT_RESULTS["n_trees"], COMPARTMENT_RESULTS)
    return f"{said} {title}: {whole(cells['n_trees'])}."


def _facts(common: _Common, row: int, labels: Labels) -> Iterator[tuple[str, str, str]]:
    """Yield the figures that have no limits."""
    for name in ("dg_cm", "mean_dbh_cm", "sampling_error_pct"):
        column = COMPARTMENT_RESULTS[name]
        value = common.texts[name][row]
        if value:
            mark = "± " if name == "sampling_error_pct" else ""
            yield labels.title(column, COMPARTMENT_RESULTS), f"{mark}{value} {labels.unit(column)}", ""
        elif name != "sampling_error_pct":
            yield labels.title(column, COMPARTMENT_RESULTS), labels("report.no_stems"), ""


def _cautions(common: _Common, row: int, labels: Labels) -> Iterator[str]:
    """Yield what follows from the figures themselves."""
    cells = common.rows[row]
    if cells["status"] in (NO_PLOTS, FULL_COUNT, ONE_PLOT):
        return
    if common.large[row]:
        yield labels("report.card_large_error", pct=common.texts["sampling_error_pct"][row])
    if cells["n_plots"] < _FEW_PLOTS:
        yield labels("report.card_few_plots")
    agree = labels("report.plots_agree")
    if any(column[row].why == agree for column in common.figures):
        yield labels("report.card_agree")


def _species(stand: Stand, labels: Labels) -> dict[str, TableBlock]:
    """Return the species of each compartment, by falling share of the basal area."""
    frame = stand.species_totals
    column = SPECIES_TOTAL_RESULTS["basal_area_share_pct"]
    decimals = decimals_of(column)
    exact = numbers(frame[column.name])
    found: dict[str, list[tuple[float, str, str]]] = {}
    cells = zip(
        frame["compartment"].to_list(),
        frame["species"].fill_null("–").to_list(),
        np.nan_to_num(exact).tolist(),
        texts(exact, decimals),
        texts(numbers(frame[f"{column.name}_se"]), decimals),
        strict=True,
    )
    for compartment, species, pct, share, error in cells:
        said = f"{share} ({error})" if error else share
        found.setdefault(compartment, []).append((-pct, labels.word(species), said))
    title = labels("report.species_title")
    heads = (Head(title, 1.6), Head(labels("report.species_share"), 2.0, numeric=True))
    blocks = {}
    for name, parts in found.items():
        rows = tuple((species, said) for _, species, said in sorted(parts)[:_SPECIES_MOST])
        note = _more("report.more_species", len(parts) - _SPECIES_MOST, labels)
        blocks[name] = TableBlock(title, heads, rows, note=note)
    return blocks


def _plots(stand: Stand, labels: Labels) -> dict[str, TableBlock]:
    """Return the plots of each compartment; why one is set aside stands in place of its state."""
    frame = stand.plots
    names = ("stems_per_ha", "basal_area_m2_per_ha", "dg_cm")
    columns = [
        frame["plot"].astype(str).tolist(),
        [
            labels.word(_text(aside) or _text(state))
            for state, aside in zip(frame["state"], frame["set_aside"], strict=True)
        ],
        _day_texts(frame["date"]),
        [whole(value) for value in numbers(frame["n_trees"]).tolist()],
        *(column_texts(frame, PLOT_RESULTS[name]) for name in names),
    ]
    rows = list(zip(*columns, strict=True))
    heads = (
        Head(labels.title(PLOT_RESULTS["plot"], PLOT_RESULTS), 1.2),
        Head(labels("report.plot_state"), 1.9),
        Head(labels.title(PLOT_RESULTS["date"], PLOT_RESULTS), 1.9),
        *(
            Head(labels.heading(PLOT_RESULTS[name], PLOT_RESULTS), 1.6, numeric=True)
            for name in ("n_trees", *names[:-1])
        ),
        Head("dg (cm)", 1.2, numeric=True),
    )
    title = labels("report.plots_title")
    homes = pd.Series(range(len(frame))).groupby(frame["compartment"].reset_index(drop=True), sort=False)
    return {
        str(name): TableBlock(
            title,
            heads,
            tuple(rows[at] for at in of.tolist()[:_PLOTS_MOST]),
            note=_more("report.more_plots", len(of) - _PLOTS_MOST, labels),
            is_quiet=True,
        )
        for name, of in homes
    }


def _day_texts(days: pd.Series) -> list[str]:
    """Return days as ISO 8601, empty where missing."""
    return pd.to_datetime(days).dt.strftime("%Y-%m-%d").fillna("").astype(str).tolist()


def _days(stand: Stand, labels: Labels) -> dict[str, tuple[str, ...]]:
    """Return when each compartment was measured, those with days only."""
    found = dates(stand)
    names = stand.compartments["compartment"].astype(str).tolist()
    return {
        name: (measured_words(found["words"][first], found["words"][last], labels),)
        for name, first, last in zip(names, found["first"], found["last"], strict=True)
        if first >= 0
    }


def _steep(stand: Stand) -> dict[str, str]:
    """Return the steepest slope met in each compartment that is steep, in per cent."""
    slopes = pd.Series(numbers(stand.plots["slope_pct"])).groupby(stand.plots["compartment"].to_numpy()).max()
    return {str(name): pct_text(round(pct)) for name, pct in slopes[slopes >= _STEEP_PCT].items()}


def _findings(stand: Stand) -> dict[str, int]:
    """Return how many findings each compartment and its plots have."""
    frame = stand.findings.frame
    plots = pd.DataFrame(stand.plots[["plot", "compartment"]]).dropna().drop_duplicates("plot")
    home = dict(zip(plots["plot"].astype(str), plots["compartment"].astype(str), strict=True))
    named = frame.select(
        pl.coalesce("compartment", pl.col("plot").replace_strict(home, default=None, return_dtype=pl.String))
    ).to_series()
    counts = named.drop_nulls().value_counts()
    return dict(zip(counts.to_series(0).to_list(), counts["count"].to_list(), strict=True))


def _plots_needed(stand: Stand, labels: Labels) -> dict[str, tuple[tuple[str, str, str], ...]]:
    """Return how many plots each compartment would need for the target."""
    parts = stand.error_parts.filter(pl.col("scope") == "compartment").drop_nulls("n_plots_needed")
    cells = parts.select("name", "target_error_pct", "n_plots_needed", "n_plots_more").iter_rows()
    return {
        name: (
            (
                labels("report.card_plots_needed", target=pct_text(target)),
                whole(needed),
                labels("report.card_plots_more", n=whole(more)),
            ),
        )
        for name, target, needed, more in cells
    }


def _more(key: str, n: int, labels: Labels) -> str:
    """Return how many are left out; empty where none is."""
    return labels.count(key, n) if n > 0 else ""


def _text(cell: Any) -> str:
    """Return a text, empty where missing."""
    return "" if pd.isna(cell) else str(cell)
