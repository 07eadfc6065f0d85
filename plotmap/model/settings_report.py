"""Settings of the report: section ``[report]`` of ``survey.toml``."""

from __future__ import annotations

from typing import Literal

from plotmap.model.settings_base import Section

CARDS_MOST = 500
"""Compartments up to which ``cards = "auto"`` writes a card for each."""


class ReportSection(Section):
    """``[report]``: whether the report has a card for each compartment."""

    cards: Literal["auto", "all", "none"] = "auto"

    def has_cards(self, n_compartments: int) -> bool:
        """Say whether a survey of so many compartments gets cards."""
        return self.cards == "all" or (self.cards == "auto" and n_compartments <= CARDS_MOST)
