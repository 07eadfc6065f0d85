"""Sensitive species reported with others, before anything is estimated, so that all figures add up."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import replace
from difflib import SequenceMatcher
from typing import TypeVar

import polars as pl

from plotmap.frames import ordered_sums
from plotmap.model.field_tables import NO_SPECIES
from plotmap.model.plot_table import CELL_SCHEMA, PlotValues
from plotmap.model.settings import Settings
from plotmap.model.settings_heights import ANY_SPECIES, SpeciesEntry
from plotmap.model.sharing import OTHER_SPECIES, Hidden
from plotmap.model.survey import Survey

_Entry = TypeVar("_Entry", bound=SpeciesEntry)
_ALIKE = 0.75
"""Spellings that the species table does not know and that match a sensitive name this well count as misspelt."""
_SHORT = 2
"""Names up to this length are told apart by every letter."""


def folded(text: str) -> str:
    """Return a text without accents, capitals and needless blanks, for comparison (Unicode NFKD, case folding)."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    return " ".join("".join(letter for letter in plain if not unicodedata.combining(letter)).split())


def sensitive_names(species: pl.DataFrame) -> frozenset[str]:
    """Return codes, botanical and local names of the species marked sensitive."""
    marked = species.filter(pl.col("sensitive") == "yes")
    return frozenset(
        name for column in ("species", "name", "local_name") for name in marked[column].drop_nulls() if name
    )


def hide_species(survey: Survey, values: PlotValues) -> tuple[Survey, PlotValues, Hidden]:
    """Report sensitive species, and as many others as it takes, as one group.

    The recoding comes after stems are measured and before anything is estimated: bark factors and equations are
    those of the species itself, while every figure by species, its error too, is computed for the group from plots.
    Nothing can be had by taking the listed species off the total.

    So that the group does not give the sensitive species away, others join it (secondary suppression), each time
    the one that helps most for the basal area it takes from sight, until (a) in every compartment with sensitive
    stems the group holds at least ``[share] round_sensitive_below`` stems, and at least one, of species that are
    not sensitive, or all that stand there; and (b) the group stands in as many compartments without sensitive
    stems as with them, as far as there are any. The method is our own; that a group of one, or a total less its
    other parts, discloses is common knowledge of statistical offices (Hundepool et al. 2012, Statistical Disclosure
    Control, ch. 4, from memory).

    Parameters
    ----------
    survey : Survey
        Species table and settings.
    values : PlotValues
        Of all species.

    Returns
    -------
    survey : Survey
        With an equation, form factor and maximum of its own for every spelling that is hidden, so that those given
        for its group still apply.
    values : PlotValues
        With `OTHER_SPECIES` in ``cells`` and ``standing``; ``species_written`` stays, for the equations.
    hidden : Hidden
        What was put together; empty where no species is sensitive.
    """
    marked = sensitive_names(survey.species)
    if not marked:
        return survey, values, Hidden()
    names = values.standing.select("species_written", "species").unique()
    written = _written(survey, names["species_written"].to_list(), marked)
    groups = survey.species.filter(pl.col("species").is_in(list(written)))
    reported = frozenset(
        names.filter(pl.col("species_written").is_in(list(written)))["species"].to_list()
        + groups.select(pl.coalesce("group", "species"))["group"].to_list()
    )
    joined, counts = _joined(values.cells, reported, survey.settings.share.round_sensitive_below)
    hidden = Hidden(written, reported, joined, *counts)
    recoded = (
        pl.when(pl.col("species").is_in(list(hidden.group))).then(pl.lit(OTHER_SPECIES)).otherwise("species")
    )
    cells = values.cells.with_columns(recoded.alias("species"))
    sums = ("n_trees", "stems", "basal_area_m2", "dbh_sum_cm")
    key = ["plot", "compartment", "species", "class_index"]
    summed = ordered_sums(cells, key, **{name: pl.col(name) for name in sums})
    return (
        _with_own_entries(survey, names, hidden),
        replace(
            values,
            cells=summed.select(list(CELL_SCHEMA)).cast(CELL_SCHEMA),  # type: ignore[arg-type]
            standing=values.standing.with_columns(recoded.alias("species")),
        ),
        hidden,
    )


def _written(survey: Survey, stems: Iterable[str], marked: frozenset[str]) -> frozenset[str]:
    """Return the spellings of sensitive species: marked ones, other names of them, and unknown ones that resemble."""
    known = set(survey.species["species"].drop_nulls().to_list())
    plain = {folded(name) for name in marked}
    codes = survey.species.filter(pl.col("sensitive") == "yes")["species"].drop_nulls().to_list()
    unknown = {name for name in stems if name not in known and name != NO_SPECIES}
    other_plain = {folded(name) for name in known} - plain
    same = {name for name in known if folded(name) in plain}
    near = {name for name in unknown if folded(name) not in other_plain and _resembles(folded(name), plain)}
    return frozenset({*codes, *same, *near})


def _resembles(name: str, plain: Iterable[str]) -> bool:
    """Say whether a name could be a misspelt one of others, all folded."""
    return any(
        name == other
        or (min(len(name), len(other)) > _SHORT and SequenceMatcher(None, name, other).ratio() >= _ALIKE)
        for other in plain
    )


def _joined(
    cells: pl.DataFrame, reported: frozenset[str], fewest: int
) -> tuple[frozenset[str], tuple[int, int, int]]:
    """Return the species that join the group, and compartments with nothing else, without and with sensitive ones."""
    counted = (
        cells.group_by("compartment", "species")
        .agg(pl.col("n_trees").sum(), pl.col("basal_area_m2").sum())
        .filter(pl.col("n_trees") > 0)
        .sort("compartment", "species")
    )
    is_hidden = pl.col("species").is_in(list(reported))
    homes = counted.group_by("compartment", maintain_order=True).agg(
        is_hidden.any().alias("sensitive"), pl.col("n_trees").filter(~is_hidden).sum().alias("others")
    )
    wanted = homes.with_columns(
        pl.when("sensitive")
        .then(pl.min_horizontal(pl.lit(max(1, fewest), pl.Float64), "others"))
        .alias("lack")
    )
    with_any = int(homes["sensitive"].sum())
    elsewhere = min(with_any, homes.height - with_any)
    rows = counted.filter(~is_hidden)
    joined = {OTHER_SPECIES} & set(rows["species"].to_list())
    while True:
        inside = rows.filter(pl.col("species").is_in(list(joined)))
        have = inside.group_by("compartment").agg(pl.col("n_trees").sum().alias("have"))
        state = wanted.join(have, on="compartment", how="left").with_columns(pl.col("have").fill_null(0.0))
        lacking = state.filter(pl.col("sensitive") & (pl.col("have") < pl.col("lack")))
        apart = state.filter(~pl.col("sensitive") & (pl.col("have") > 0)).height
        left = rows.filter(~pl.col("species").is_in(list(joined)))
        if (lacking.is_empty() and apart >= elsewhere) or left.is_empty():
            break
        joined.add(_next(left, state, counts_elsewhere=apart < elsewhere))
    only = homes.filter(pl.col("sensitive") & (pl.col("others") == 0)).height
    return frozenset(joined), (only, apart, with_any)


def _next(left: pl.DataFrame, state: pl.DataFrame, *, counts_elsewhere: bool) -> str:
    """Return the species that helps most for the basal area that is lost from sight; of equals the first by name."""
    rows = left.join(state, on="compartment", how="left", maintain_order="left")
    here = (
        pl.when(pl.col("sensitive") & (pl.col("lack") > 0))
        .then(
            (
                pl.min_horizontal("lack", pl.col("have") + pl.col("n_trees"))
                - pl.min_horizontal("lack", "have")
            )
            / pl.col("lack")
        )
        .otherwise(0.0)
    )
    elsewhere = (~pl.col("sensitive") & (pl.col("have") == 0)).cast(pl.Float64) * float(counts_elsewhere)
    gains = rows.group_by("species").agg(
        (here.fill_null(0.0) + elsewhere).sum().alias("gain"), pl.col("basal_area_m2").sum()
    )
    ranked = gains.with_columns((pl.col("gain") / pl.col("basal_area_m2").clip(1e-9)).alias("worth"))
    return str(ranked.sort("worth", "species", descending=[True, False])["species"][0])


def _with_own_entries(survey: Survey, names: pl.DataFrame, hidden: Hidden) -> Survey:
    """Give hidden spellings the equation, maximum and form factor of their group as their own."""
    pairs = names.filter(pl.col("species").is_in(list(hidden.group))).sort("species_written").rows()
    settings = survey.settings
    equations, maxima = settings.volume.equations, settings.density.maxima
    changed = settings.model_copy(
        update={
            "volume": settings.volume.model_copy(update={"equations": _with_copies(equations, pairs)}),
            "density": settings.density.model_copy(update={"maxima": _with_copies(maxima, pairs)}),
        }
    )
    return replace(survey, settings=changed, species=_with_own_factors(survey.species, pairs))


def _with_copies(entries: tuple[_Entry, ...], pairs: list[tuple[str, str]]) -> tuple[_Entry, ...]:
    """Return entries of species with copies of those of groups for spellings that have none of their own."""
    own = {entry.species: entry for entry in entries}
    copies = (
        own[group].model_copy(update={"species": written})
        for written, group in pairs
        if written not in own and group in own
    )
    return (*entries, *copies)


def _with_own_factors(species: pl.DataFrame, pairs: list[tuple[str, str]]) -> pl.DataFrame:
    """Add rows with the group's form factor for spellings that have none."""
    given = dict(
        species.filter(pl.col("form_factor").is_not_null())
        .unique("species", keep="first", maintain_order=True)
        .select("species", "form_factor")
        .iter_rows()
    )
    lacking = [(written, given[group]) for written, group in pairs if written not in given and group in given]
    if not lacking:
        return species
    rows = pl.DataFrame(lacking, schema={"species": pl.String, "form_factor": pl.Float64}, orient="row")
    return pl.concat([species, rows], how="diagonal")


def without_figure(settings: Settings, species: pl.DataFrame, hidden: Hidden) -> tuple[bool, bool]:
    """Say whether sensitive species lack an equation or a maximum that others have, so that gaps would show them.

    Parameters
    ----------
    settings : Settings
        With the entries that `hide_species` adds.
    species : polars.DataFrame
        Species table, likewise.
    hidden : Hidden
        What is hidden.

    Returns
    -------
    no_volume, no_maximum : bool
        Whether some sensitive species has no volume, or no maximum, where others are given one.
    """
    equations = {entry.species for entry in settings.volume.equations}
    factors = set(species.filter(pl.col("form_factor").is_not_null())["species"].to_list())
    maxima = {entry.species for entry in settings.density.maxima}

    def lacks(given: set[str]) -> bool:
        return bool(given) and ANY_SPECIES not in given and bool(hidden.written - given)

    return lacks(equations | factors), lacks(maxima)
