"""An empty survey folder: settings with every key explained, tables with their headings as CSV or one workbook."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path

from plotmap.errors import OutputError
from plotmap.fielddata.blank_workbook import blank_workbook, headings_of
from plotmap.fielddata.discovery import SETTINGS_FILE
from plotmap.model.columns import Table
from plotmap.model.field_tables import COMPARTMENTS, FIELD_TABLES

WORKBOOK_FILE = "survey.xlsx"
"""Name of the workbook that is laid down in place of the CSV files."""
_TABLES = tuple(table for table in FIELD_TABLES if table is not COMPARTMENTS)
_SETTINGS = """\
# Settings of this survey. Lines that begin with # show what else can be set, with the value used without them.

[survey]
title = "New survey"
# crs = "EPSG:32630"         # projected, in metres; the compartment layer's own, or its UTM zone
# confidence = 0.95          # of the intervals
# areas = "register"         # register (geodesic where there is none) | geodesic

[plots]
design = "circle"            # circle | rectangle | nested | angle-count | strip | full
radius_m = 12.62             # or area_m2; a plot's own radius_m or area_m2 goes before
#   nested:      nests = [{radius_m = 7.98, min_dbh_cm = 12}, {radius_m = 12.62, min_dbh_cm = 36}]
#   angle-count: baf_m2_per_ha = 4
#   strip:       width_m = 10 (its length stands in the plots table)
# slope = "horizontal"       # horizontal: laid out level | ground: along the slope, area corrected
# edge = "whole"             # whole: all trees of the circle | inside: only those inside the compartment,
#                              by the exact area inside | mirage: tallied again, column times |
#                              positions: every stem has azimuth and distance
# azimuth = "grid"           # north of azimuths: grid | true | magnetic (then declination_deg, east positive)
# assign = "position"        # position | recorded: whose compartment a plot counts for
# position_error_m = 0       # how good positions are: plots nearer to a boundary are a note; 0: none is looked for

[stems]
# breast_height_m = 1.3      # kept with the results; height curves begin there
# section = "arithmetic"     # of several caliper readings: arithmetic | geometric | quadratic
# bark = "over"              # over | under: what the results are
# min_dbh_cm = 0             # thinner stems are set aside
# count = "live"             # live: dead stems are set aside | all
# rounding = "none"          # none | nearest | down: crews cut off to whole centimetres, half is given back
# check_days = 30            # an instrument check older than this is a finding
# interpolate_checks = false # true: zero and gain run in a straight line from one check to the next
# max_gain_off_pct = 2       # a gain farther from 1 is a finding: adjust the instrument
# max_zero_move_mm = 3       # a zero, and
# max_gain_move_pct = 1      # a gain that moved by more between two checks is a finding
# max_reading_difference_pct = 25

[classes]
width_cm = 5                 # or edges_cm = [10, 20, 30, 45], and top_mean_cm = 55 to tally the class above 45
# on = "diameter"            # diameter | girth
# edge = "lower"             # which edge belongs to the class: lower 10–<20 | upper >10–20
# bands = [{name = "first", low_cm = 10, high_cm = 20}, {name = "second", low_cm = 20, high_cm = 35}]
#                              also letter = "B", colour = "#1f6fb2"; the top band: mean_cm = 45 instead of high_cm

[estimates]
# target_error_pct = 10      # sampling error aimed at; error_parts says how many plots reach it
# sample_of = "compartment"      # what plots are one sample of: compartment | stratum | survey
# finite_population = false      # true: variances × (1 − share of the area on plots)
# one_plot_variance = "missing"  # missing: totals then have no error | refuse | pooled: taken from the others |
#                                  merge: as one with the other that merge_into names
# merge_into = {}                # with merge, as in { 7B = "7A" }
# few_plots = "missing"        # table model_based: missing | synthetic | composite
# interval = "auto"            # limits: auto (fits skewed figures) | t (even on both sides) | log

[heights]                      # where heights were measured
# min_pairs = 10             # stems with heights that a species needs for a height curve of its own
# min_slenderness = 15       # height over diameter outside these is a finding
# max_slenderness = 200

[density]
# reineke_exponent = 1.605   # of Reineke's index
# reineke_dbh_cm = 25        # diameter that the index refers to
#   relative density: maxima = [{species = "oak", index = 900}, {species = "*", index = 1000}]

# Volume: only by your own equations; else by the form factors of the species table, else none.
#   [[volume.equations]]
#   species = "oak"            # * for all others
#   kind = "power"             # power: a d^b h^c | log: ln v = a + b ln d + c ln h | d2h: a + b d² h |
#                              form-factor: g h f; v in m³, d in cm, h in m, g in m²
#   a = 0.00004
#   b = 1.9
#   c = 1.0
#   min_dbh_cm = 8             # its range: what lies outside is counted and said
#   max_dbh_cm = 70
#   min_height_m = 6
#   max_height_m = 35
#   bark = "over"              # of the diameter, as [stems] bark
#   volume_bark = "over"
#   source = "where it comes from"

[check]                        # check measurements (check_trees): they change no estimate
# tolerance_mm = 5           # difference allowed of one diameter; or tolerance_pct where that is more
# tolerance_pct = 1
# min_within_pct = 90        # share of a crew's pairs that must be within
# bias_mm = 2                # mean difference allowed of a crew
# match_position_m = 1       # partners without a common number: by position, else by diameter
# match_mm = 30

[compare]                      # plotmap compare OLD NEW: read from the new survey
# pair_distance_m = 15       # plots of one name that lie farther apart are two plots
# boundary_pct = 1           # land that changed sides before a compartment counts as another
# max_growth_cm_per_year = 2 # a diameter that grew faster is a finding
# max_shrinking_cm = 0.5     # and one that shrank by more

[layout]                       # plotmap layout: plots before the field
# method = "square"          # square | triangular | strips: grids with one random start | random | balanced
# seed = 1                   # choose it once, before you see the map
#   how many plots: cv_pct = 50 (in %, for [estimates] target_error_pct), or pilot = "../survey_2016" that tells it;
#                   crew_days = 12 and plots_per_day = 10; n_plots = 80; or spacing_m = 150 of a grid
#   by strata:      cv_pct_by_stratum = { upland = 60 }
# allocation = "proportional"  # proportional | neyman: more where plots differ more
# min_per_stratum = 2
# strip_ratio = 4            # of strips: distance of lines over distance of plots on them
#   bearing_deg = 30 of the grid; drawn by the seed without it
# enough_plots = 2           # compartments with fewer are named
# reserve = 0                # reserve plots of each stratum
# exclude = []               # polygons without plots, as in ["water.gpkg"]
#   start = [500000, 5600000]: easting and northing where the walk of each day begins

[thinning]                     # proposals by the rules of the table prescriptions
# likely_from = 0.9          # probability that the criterion is met from which a thinning is proposed
# unlikely_to = 0.1          # and up to which it is not due; between them more plots must be measured
# draws = 500                # bootstrap draws of the plots, for ranges
# seed = 1                   # of the draws
# heavy_share_pct = 30       # share of basal area above which a proposal is marked as heavy

[map]
# large_error_pct = 50       # compartments with a larger sampling error are hatched
# species = ""               # whose share in the basal area is shown first; the commonest one without it
# background_credit = ""     # whose background it is; needed with background
# background = ""            # pictures of one host on the network, drawn below the compartments only when the box
#                              on the map is ticked: "https://host/{z}/{x}/{y}.png" of a host that allows it
#   classes of your own: breaks = { basal_area_m2_per_ha = [0, 10, 20, 30], basal_area_share_pct = [0, 50, 100] }
#   roads, streams: layers = [{file = "roads.gpkg", layer = "roads", name = "Roads"}]

[labels]                       # words that people read
# language = "en"            # en | de (begun) of map, report, sheets and workbook
# own = {}                   # as in { "column.basal_area_m2_per_ha" = "Basal area of the stand" }

[share]                        # plotmap share: results for managers or the public
# round_sensitive_below = 3  # stems of other species that sensitive ones are hidden among, at least
# phrase = ""                # a secret: with it plots keep their new numbers and places when others are added
# may_show = []              # texts the leak test passes over, as in ["Elm Bank"]

[paper]                        # printed pages: plotmap sheet
# author = ""                # who answers for them
# font = ""                  # TrueType file (.ttf) beside this one, for letters of other scripts

[report]                       # report.html and report.pdf
# cards = "auto"             # a card for each compartment: auto (up to 500) | all | none

# Own headings: [columns.<table>], then "own heading" = "plotmap column"
# [columns.trees]
# "Sp." = "species"
"""


def lay_down(folder: Path, *, workbook: bool = False) -> list[Path]:
    """Write an empty survey folder.

    Parameters
    ----------
    folder : Path
        Made where it is not there; its parent must be.
    workbook : bool
        One workbook with a sheet for each table, in place of a CSV file for each.

    Returns
    -------
    list of Path
        The files written: settings, and every table but the compartments, which need polygons.

    Raises
    ------
    OutputError
        The folder is a file, holds one of the tables already (in any format), or cannot be written;
        nothing is left behind then.
    """
    if folder.exists() and not folder.is_dir():
        raise OutputError(f"{folder}: this is a file, but a survey is a folder. Name a folder.")
    if there := _already_there(folder):
        raise OutputError(
            f"{folder}: {', '.join(there)} already there, and files are never overwritten. Name another folder."
        )
    contents = {SETTINGS_FILE: _SETTINGS.encode()}
    if workbook:
        contents[WORKBOOK_FILE] = blank_workbook(_TABLES)
    else:
        contents |= {f"{table.name}.csv": _heading_line(table) for table in _TABLES}
    is_new = not folder.exists()
    try:
        folder.mkdir(exist_ok=True)
        for name, content in contents.items():
            (folder / name).write_bytes(content)
    except OSError as error:
        _clear_away(folder, contents, is_new=is_new)
        raise OutputError(
            f"{folder}: the survey cannot be laid down: {error.strerror or error}. Name a folder that may be "
            "written to, in a folder that is there."
        ) from error
    return [folder / name for name in contents]


def _already_there(folder: Path) -> list[str]:
    """Return the files of the folder that are called like the settings, the workbook or one of the tables."""
    if not folder.is_dir():
        return []
    names = {Path(SETTINGS_FILE).stem, Path(WORKBOOK_FILE).stem, *(table.name for table in _TABLES)}
    try:
        return sorted(path.name for path in folder.iterdir() if path.stem.lower() in names)
    except OSError as error:
        raise OutputError(
            f"{folder}: the folder cannot be looked into: {error.strerror or error}. Name another folder."
        ) from error


def _clear_away(folder: Path, names: Iterable[str], *, is_new: bool) -> None:
    """Remove what was written before writing failed."""
    with suppress(OSError):
        for name in names:
            (folder / name).unlink(missing_ok=True)
        if is_new:
            folder.rmdir()


def _heading_line(table: Table) -> bytes:
    """Return the heading line of a table."""
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerow([name for name, _ in headings_of(table)])
    return text.getvalue().encode()
