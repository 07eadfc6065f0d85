"""Interim."""

from __future__ import annotations

from plotmap.model.check_table import CheckComparison
from plotmap.model.stem_table import Stems
from plotmap.model.survey import Survey


def compare_checks(survey: Survey, stems: Stems) -> CheckComparison:
    """Return nothing yet."""
    return CheckComparison.none()
