"""What a figure can be of: the words of the column ``scope``."""

SURVEY, STRATUM, COMPARTMENT = "survey", "stratum", "compartment"
