"""Volumes in the report, where the settings ask for them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from plotmap.model.result_tables_heights import VOLUME_RESULTS
from plotmap.output.report.figures import Estimate, estimates

if TYPE_CHECKING:
    from plotmap.model.labels import Labels
    from plotmap.model.survey import Stand

_ALL = "all species"


def volumes_of(stand: Stand, scope: str) -> pl.DataFrame:
    """Return the volumes of all species together, of one scope."""
    return stand.volumes.filter((pl.col("scope") == scope) & (pl.col("species") == _ALL))


def survey_volume(stand: Stand, labels: Labels) -> list[Estimate]:
    """Return the volume per ha of the survey; nothing where no volume was asked for."""
    rows = volumes_of(stand, "survey").head(1)
    return _estimates(rows, labels)


def compartment_volumes(stand: Stand, labels: Labels) -> list[Estimate]:
    """Return the volume per ha of each compartment, in their order; nothing where no volume was asked for."""
    own = volumes_of(stand, "compartment")
    if own.is_empty():
        return []
    names = pl.DataFrame(
        {"name": stand.compartments["compartment"].astype(str).to_list()}, schema={"name": pl.String}
    )
    return _estimates(names.join(own, on="name", how="left", maintain_order="left"), labels)


def _estimates(rows: pl.DataFrame, labels: Labels) -> list[Estimate]:
    """Return volumes per ha; where there is none its status says why."""
    status = rows["status"].fill_null("").to_list()
    found = estimates(rows, VOLUME_RESULTS, "volume_m3_per_ha", status, labels)
    return [
        one if one.value else Estimate(one.title, one.unit, "", why=labels.word(word) or one.why)
        for one, word in zip(found, status, strict=True)
    ]
