"""What must be said with a proposal."""

from __future__ import annotations

import polars as pl

from plotmap.model.field_tables_thinning import ABOVE
from plotmap.model.labels import Labels
from plotmap.model.result_tables_thinning import LARGEST_SHARE, PROPOSED
from plotmap.model.settings_thinning import ThinningSection
from plotmap.model.thinning import Rule


def cautions_of(proposals: pl.DataFrame, labels: Labels) -> tuple[str, ...]:
    """Return the sentences to be printed with every set of proposals.

    Parameters
    ----------
    proposals : polars.DataFrame
        Columns of `PROPOSAL_RESULTS`.
    labels : Labels
        Words in the language of the survey.

    Returns
    -------
    tuple of str
        What they rest on, that they are no felling permit, who chooses the trees, wind, ground, felling and law.
    """
    made = proposals.filter(pl.col("status") == PROPOSED)
    first, last = made["measured_from"].min(), made["measured_to"].max()
    dates = (
        labels("thinning.dates_unknown")
        if first is None or last is None
        else labels("thinning.dates", first=str(first), last=str(last))
    )
    return (
        labels.count("thinning.basis", made.height),
        labels("thinning.plots", n=int(made["n_plots"].sum()), dates=dates),
        labels("thinning.not_a_permit"),
        labels("thinning.classes_not_trees"),
        labels("thinning.wind"),
        labels("thinning.ground"),
        labels("thinning.felling"),
        labels("thinning.law"),
    )


def caution_of(
    rule: Rule, limit: str, basal_area_cut_pct: float, settings: ThinningSection, labels: Labels
) -> str:
    """Return what to look at in one compartment before anything is marked there.

    Parameters
    ----------
    rule : Rule
        The rule that was followed.
    limit : str
        What ended the removal.
    basal_area_cut_pct : float
        Share of basal area that is cut.
    settings : ThinningSection
        From which share a thinning is heavy.
    labels : Labels
        Words in the language of the survey.
    """
    said = []
    if basal_area_cut_pct > settings.heavy_share_pct:
        said.append(labels("thinning.heavy", pct=f"{settings.heavy_share_pct:g}"))
    if rule.kind == ABOVE:
        said.append(labels("thinning.from_above"))
    if limit == LARGEST_SHARE:
        said.append(labels("thinning.second_visit"))
    said.append(labels("thinning.slenderness"))
    return " ".join(said)
