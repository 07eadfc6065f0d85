"""What the report says, from a stand alone; how it is laid out is said elsewhere."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from importlib.metadata import version
from typing import TYPE_CHECKING, Any

import pandas as pd

from plotmap.model.result_tables import COMPARTMENT_RESULTS, NO_PLOTS, STRATUM_RESULTS, SURVEY_RESULTS
from plotmap.model.settings_report import CARDS_MOST
from plotmap.output.report.blocks import Block, Head, Section, TableBlock, Text
from plotmap.output.report.cards import FIGURES
from plotmap.output.report.figures import Estimate, column_texts, estimates, pct_text, texts, whole
from plotmap.output.report.methods import inputs_section, methods_section
from plotmap.output.report.own_words import measured_words
from plotmap.output.report.set_aside import aside_section, findings_section
from plotmap.output.report.sureness import sure_section
from plotmap.output.report.volumes import survey_volume
from plotmap.output.webmap.figures import numbers
from plotmap.output.webmap.notes import dates
from plotmap.output.webmap.themes import PLAIN, hatches

if TYPE_CHECKING:
    from plotmap.model.columns import Table
    from plotmap.model.labels import Labels
    from plotmap.model.survey import Stand

STRATA_ON_FIRST_PAGE = 6
_TABLE_MOST = 20_000
"""Compartments up to which the report has a table of them."""


@dataclass(frozen=True, slots=True)
class Report:
    """What the report says but for the cards, which `plotmap.output.report.cards.cards` yields one by one.

    Attributes
    ----------
    title, subtitle : str
        Of the survey; days of measurement and author.
    language : str
        Of the words.
    headline : tuple of Estimate
        Figures of the whole survey.
    lead : tuple of str
        What the headline covers, and what it leaves out.
    cautions : Section
        What everybody must know before using a figure.
    map_said : str
        The map in words.
    totals : TableBlock
        Survey, and strata where there are few.
    tables : Section
        Strata where there are many, and compartments.
    sure, methods, inputs, findings, aside : Section
        How sure the figures are; how they were made and of what; what was odd; what was set aside.
    cards_title : str
        Heading of the cards.
    has_cards : bool
        Whether cards follow.
    cards_note : str
        Why there are none; empty where there are.
    footer : str
        On each page.
    """

    title: str
    subtitle: str
    language: str
    headline: tuple[Estimate, ...]
    lead: tuple[str, ...]
    cautions: Section
    map_said: str
    totals: TableBlock
    tables: Section
    sure: Section
    methods: Section
    inputs: Section
    findings: Section
    aside: Section
    cards_title: str
    has_cards: bool
    cards_note: str
    footer: str


def report_of(stand: Stand, labels: Labels) -> Report:
    """Return what the report says.

    Parameters
    ----------
    stand : Stand
        Everything that was computed.
    labels : Labels
        Words of the survey.
    """
    settings = stand.settings
    n_compartments = len(stand.compartments)
    has_cards = settings.report.has_cards(n_compartments)
    return Report(
        title=settings.survey.title.strip() or labels("report.without_title"),
        subtitle=_subtitle(stand, labels),
        language=labels.language,
        headline=_headline(stand, labels),
        lead=tuple(_lead(stand, labels)),
        cautions=Section("cautions", labels("report.cautions"), tuple(_cautions(stand, labels))),
        map_said=labels("report.map_said"),
        totals=_totals(stand, labels),
        tables=Section("tables", labels("report.compartments_title"), tuple(_tables(stand, labels))),
        sure=sure_section(stand, labels),
        methods=methods_section(stand, labels),
        inputs=inputs_section(stand, labels),
        findings=findings_section(stand, labels),
        aside=aside_section(stand, labels),
        cards_title=labels("report.cards"),
        has_cards=has_cards,
        cards_note="" if has_cards else _why_no_cards(stand, labels),
        footer=labels("report.footer", version=version("plotmap")),
    )


def days_words(stand: Stand, labels: Labels) -> str:
    """Return when the survey was measured; empty where no plot has a day."""
    words = dates(stand)["words"]
    return measured_words(words[0], words[-1], labels) if words else ""


def _subtitle(stand: Stand, labels: Labels) -> str:
    """Return what stands under the title."""
    author = stand.settings.paper.author.strip()
    days = days_words(stand, labels) or labels("report.not_dated")
    return " · ".join(
        [labels("report.heading"), days, *([labels("report.by", author=author)] if author else [])]
    )


def _headline(stand: Stand, labels: Labels) -> tuple[Estimate, ...]:
    """Return the figures of the whole survey."""
    frame = stand.survey_total.head(1)
    status = frame["status"].astype(str).tolist()
    figures = [found for name in FIGURES for found in estimates(frame, SURVEY_RESULTS, name, status, labels)]
    return (*figures, *survey_volume(stand, labels))


def _lead(stand: Stand, labels: Labels) -> Iterator[str]:
    """Yield what the headline covers."""
    if stand.survey_total.empty or stand.survey_total["status"].iloc[0] == NO_PLOTS:
        yield labels("report.nothing_known")
        return
    total = _first_row(stand.survey_total)
    area, left_out = (texts(numbers(stand.survey_total[name]), 1)[0] for name in _AREAS)
    source = labels.word(str(total["area_source"]))
    covers = labels(
        "report.covers",
        area=area,
        compartments=labels.count("words.compartments", int(total["n_compartments"])),
        plots=labels.count("words.plots", int(total["n_plots"])),
    )
    yield f"{covers} {labels('report.area_source', source=source)}"
    if total["n_without_plots"]:
        yield labels.count("report.by_stratum", int(total["n_without_plots"]))
    if total["n_left_out"]:
        compartments = labels.count("words.compartments", int(total["n_left_out"]))
        yield labels("report.left_out", area=left_out, compartments=compartments)
    if total["status"] == "partly":
        by_compartment = stand.settings.estimates.sample_of == "compartment"
        key = "report.total_no_error_compartments" if by_compartment else "report.total_no_error_strata"
        yield labels.count(key, int(total["n_one_plot"]))


_AREAS = ("area_ha", "area_left_out_ha")


def _first_row(frame: pd.DataFrame) -> dict[str, Any]:
    """Return the first row of a table by its columns."""
    rows: list[dict[str, Any]] = pd.DataFrame(frame).head(1).to_dict("records")  # type: ignore[assignment]
    return rows[0]


def _cautions(stand: Stand, labels: Labels) -> Iterator[Block]:
    """Yield what everybody must know before using a figure."""
    pct = pct_text(100 * stand.settings.survey.confidence)
    words = dates(stand)["words"]
    days = labels("report.days_between", first=words[0], last=words[-1]) if len(words) > 1 else "".join(words)
    yield Text(labels("report.caution_samples", pct=pct), "bullet")
    age = labels("report.caution_age", days=days) if days else labels("report.caution_no_age")
    yield Text(age, "bullet")
    yield Text(labels("report.caution_permit"), "bullet")
    yield Text(labels("report.caution_hazards"), "bullet")


def _totals(stand: Stand, labels: Labels) -> TableBlock:
    """Return the survey, and the strata where they are few."""
    whole_survey = labels("report.whole")
    rows = _rows(stand.survey_total, SURVEY_RESULTS, [whole_survey], labels)
    note = labels("report.error_note")
    if 1 < len(stand.strata) <= STRATA_ON_FIRST_PAGE:
        rows += _rows(stand.strata, STRATUM_RESULTS, stand.strata["stratum"].astype(str).tolist(), labels)
    elif len(stand.strata) > STRATA_ON_FIRST_PAGE:
        note += " " + labels("report.strata_follow")
    return TableBlock(labels("report.totals_title"), _heads(stand, labels, "", 3.4), tuple(rows), 1, note)


def _tables(stand: Stand, labels: Labels) -> Iterator[Block]:
    """Yield the table of the strata, where they are many, and that of the compartments."""
    if len(stand.strata) > STRATA_ON_FIRST_PAGE:
        names = stand.strata["stratum"].astype(str).tolist()
        rows = _rows(stand.strata, STRATUM_RESULTS, names, labels)
        title = labels("report.strata_title")
        yield TableBlock(title, _heads(stand, labels, title, 3.4), tuple(rows))
    frame = stand.compartments
    if len(frame) > _TABLE_MOST:
        yield Text(labels("report.table_left_out", n=whole(len(frame))))
        return
    names = [
        number if name in ("", number) else f"{number} {name}"
        for number, name in zip(
            frame["compartment"].astype(str), frame["name"].fillna("").astype(str), strict=True
        )
    ]
    hatched = hatches(frame, stand.settings.map.large_error_pct) != PLAIN
    rows = _rows(
        frame,
        COMPARTMENT_RESULTS,
        [f"{name} *" if mark else name for name, mark in zip(names, hatched.tolist(), strict=True)],
        labels,
    )
    large = pct_text(stand.settings.map.large_error_pct)
    note = labels("report.hatched_note", large=large) if hatched.any() else ""
    title = labels("report.compartments_title")
    yield TableBlock(title, _heads(stand, labels, title, 3.4), tuple(rows), note=note)


def _heads(stand: Stand, labels: Labels, first: str, share: float) -> tuple[Head, ...]:
    """Return the columns of the tables of estimates."""
    table = COMPARTMENT_RESULTS
    limits = labels("report.limits", pct=pct_text(100 * stand.settings.survey.confidence))
    return (
        Head(first, share),
        Head(labels.heading(table["area_ha"], table), 1.3, numeric=True),
        Head(labels.title(table["n_plots"], table), 1.2, numeric=True),
        Head(labels.heading(table["basal_area_m2_per_ha"], table), 1.5, numeric=True),
        Head(limits, 2.3, numeric=True),
        Head(labels.heading(table["stems_per_ha"], table), 1.3, numeric=True),
        Head(limits, 2.5, numeric=True),
        Head("dg (cm)", 1.1, numeric=True),
        Head(labels("report.error_head"), 0.9, numeric=True),
    )


def _rows(frame: pd.DataFrame, table: Table, names: list[str], labels: Labels) -> list[tuple[str, ...]]:
    """Return one row of texts for each row of a table of estimates."""
    status = frame["status"].astype(str).tolist()
    area, stems = (
        estimates(frame, table, name, status, labels) for name in ("basal_area_m2_per_ha", "stems_per_ha")
    )
    plain = [column_texts(frame, table[name]) for name in ("area_ha", "dg_cm", "sampling_error_pct")]
    plots = [whole(value) for value in numbers(frame["n_plots"]).tolist()]
    return [
        (name, size, n, one.value, one.limits or one.why, two.value, two.limits or _why(one, two), dg, error)
        for name, size, n, one, two, dg, error in zip(
            names, plain[0], plots, area, stems, plain[1], plain[2], strict=True
        )
    ]


def _why(first: Estimate, second: Estimate) -> str:
    """Return why there are no limits; nothing where the figure beside it has said so."""
    return "" if first.why == second.why else second.why


def _why_no_cards(stand: Stand, labels: Labels) -> str:
    """Return why the report has no cards."""
    if stand.settings.report.cards == "none":
        return labels("report.cards_asked_off")
    return labels("report.cards_left_out", n=whole(len(stand.compartments)), most=CARDS_MOST)
