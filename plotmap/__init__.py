"""From caliper and girth-tape field sheets to checked stand figures, a GeoPackage and a map.

Public verbs: `read_survey`, `check`, `compile_survey`, `propose_thinning`, `write_geopackage`, `write_map`. They
are imported when they are first used, so that the command line starts at once.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from plotmap.fielddata import read_survey
    from plotmap.output import write_geopackage, write_map
    from plotmap.workflow import check, compile_survey, propose_thinning

__version__ = "0.1.0"
_HOMES = {
    "read_survey": "plotmap.fielddata",
    "check": "plotmap.workflow",
    "compile_survey": "plotmap.workflow",
    "propose_thinning": "plotmap.workflow",
    "write_geopackage": "plotmap.output",
    "write_map": "plotmap.output",
}
__all__ = ["check", "compile_survey", "propose_thinning", "read_survey", "write_geopackage", "write_map"]


def __getattr__(name: str) -> Any:
    """Import a public verb when it is first asked for."""
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module plotmap has no attribute {name}")


def __dir__() -> list[str]:
    """Return the public names."""
    return sorted([*__all__, "__version__"])
