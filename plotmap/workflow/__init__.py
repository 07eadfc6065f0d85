"""The order of the stages: read, check, compute, write. Nothing else in the project knows it."""

from plotmap.workflow.comparing import compare, compare_surveys
from plotmap.workflow.computing import Progress, check, compile_survey, propose_thinning
from plotmap.workflow.field_papers import make_bands, make_distances, make_sheets
from plotmap.workflow.laying_out import lay_out
from plotmap.workflow.running import RunResult, run, sheet
from plotmap.workflow.sharing import ShareResult, share

__all__ = [
    "Progress",
    "RunResult",
    "ShareResult",
    "check",
    "compare",
    "compare_surveys",
    "compile_survey",
    "lay_out",
    "make_bands",
    "make_distances",
    "make_sheets",
    "propose_thinning",
    "run",
    "share",
    "sheet",
]
