"""The report: what was found, how sure it is, and how it was made, for the screen and on paper."""

from plotmap.output.report.html import write_report_html
from plotmap.output.report.pdf import write_report_pdf

__all__ = ["write_report_html", "write_report_pdf"]
