"""From a survey folder to typed tables and findings."""

from plotmap.fielddata.reading import read_survey

__all__ = ["read_survey"]
