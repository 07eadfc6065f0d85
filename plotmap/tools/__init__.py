"""Self-describing tools that the command line, Python and a GIS host share."""

from plotmap.tools.catalogue import TOOLS
from plotmap.tools.declaration import Parameter, ParameterKind, Report, Tool

__all__ = ["TOOLS", "Parameter", "ParameterKind", "Report", "Tool"]
