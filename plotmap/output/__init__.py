"""Writers of the results, one a module."""

from plotmap.output.change_files import write_change
from plotmap.output.findings_file import check_findings_file, save_findings
from plotmap.output.geojson import write_geojson
from plotmap.output.geopackage import write_geopackage
from plotmap.output.geoparquet import write_geoparquet
from plotmap.output.layout_files import write_layout
from plotmap.output.publish import publish, write_stopped
from plotmap.output.result_folder import COMPARE, LAYOUT, RUN, SHARE, check_target, foreign_files
from plotmap.output.tables import write_findings, write_ledger, write_tables, write_workbook
from plotmap.output.webmap import write_map

__all__ = [
    "COMPARE",
    "LAYOUT",
    "RUN",
    "SHARE",
    "check_findings_file",
    "check_target",
    "foreign_files",
    "publish",
    "save_findings",
    "write_change",
    "write_findings",
    "write_geojson",
    "write_geopackage",
    "write_geoparquet",
    "write_layout",
    "write_ledger",
    "write_map",
    "write_stopped",
    "write_tables",
    "write_workbook",
]
