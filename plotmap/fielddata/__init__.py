"""From a survey folder to typed tables and findings."""

from plotmap.fielddata.before_field import read_ground
from plotmap.fielddata.follow_ons import without_follow_ons
from plotmap.fielddata.reading import read_survey

__all__ = ["read_ground", "read_survey", "without_follow_ons"]
