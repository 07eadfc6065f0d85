"""The tool that makes results for others."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from plotmap.errors import SettingsError
from plotmap.model.sharing import ABOUT_FILE, OTHER_SPECIES, Audience
from plotmap.tools.declaration import Progress, Report
from plotmap.tools.findings_text import counted
from plotmap.tools.result_places import refuse_file_name


def run_share(given: Mapping[str, Any], progress: Progress) -> Report:
    """Write results for others."""
    from plotmap.workflow import share  # noqa: PLC0415

    refuse_file_name(given.get("out"))
    if not given.get("for"):
        raise SettingsError(f"--for is missing: say who the results are for, {' or '.join(Audience)}.")
    result = share(given["survey"], given["for"], given.get("out"), progress)
    if result.hidden is None:
        return Report(
            ok=False,
            findings=result.findings,
            lines=("Errors stopped it; nothing was written. plotmap check lists them too.",),
        )
    lines = (
        *_hidden_lines(result.hidden),
        f"Results for {given['for']} in {result.folder}, searched for leaks: none found.",
        f"  {ABOUT_FILE} says what was changed; give the folder as it is",
    )
    return Report(ok=True, findings=None, lines=lines)


def _hidden_lines(hidden: Any) -> list[str]:
    """Return which species were put together, in sentences for the house."""
    if not hidden.written:
        return ["Nothing is sensitive by the species table: only plots, stems and crews were kept back."]
    lines = [
        f"Reported together as '{OTHER_SPECIES}': {', '.join(sorted(hidden.group))}.",
        (
            f"  {counted(hidden.n_with, 'compartment')} with sensitive species, "
            f"{counted(hidden.n_apart, 'compartment')} in which others of the group stand without them"
        ),
    ]
    if hidden.n_only:
        only = counted(hidden.n_only, "compartment")
        lines.append(
            f"  {only} with sensitive species only: there the group is all that stands (docs/sharing.md)"
        )
    return lines
