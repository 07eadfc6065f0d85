"""The text files of the surveys with mistakes.

What stands after ``<--`` is not written: it says which finding the row is there for, as ``code: why``, several
separated by ``|``. A first line that begins with ``<--`` is about the whole file.
"""

# ruff: noqa: E501 - a row and what is wrong with it stand on one line
from __future__ import annotations

FIELD_SHEETS_TOML = """\
[survey]
title = "With mistakes: field sheets (invented)"
crs = "EPSG:32630"

[plots]                 # no radius here: every plot has to bring its own
design = "circle"
slope = "ground"        # laid out along the slope, so every plot needs its slope
edge = "whole"

[stems]
bark = "under"          # so every stem needs bark_mm or a bark factor

[classes]
width_cm = 10
bands = [{ name = "ochre", low_cm = 10, high_cm = 20 }, { name = "slate", low_cm = 20, high_cm = 40 }]
"""

FIELD_SHEETS = {
    "plots.csv": """\
plot;easting;northing;compartment;state;date;crew;radius_m;area_m2;slope_pct;weather <-- column-unknown: weather is none of the columns
P01;511100.0;6027100.0;1;measured;2026-05-04;crew A;12.62;;10.5;dry
P02;511300.0;6027100.0;2;measured;2026-05-04;crew A;12.62;;12.0;dry
P02;511320.0;6027120.0;2;measured;2026-05-04;crew A;12.62;;12.0;dry <-- plot-twice: P02 is the row above
P03;;;2;measured;2026-05-04;crew A;12.62;;8.0;dry <-- plot-without-position: measured, but neither easting nor lon
P04;511100.0;6027040.0;1;measured;2026-05-04;crew A;;;9.0;dry <-- plot-without-size: no radius here nor in survey.toml
P05;511150.0;6027150.0;1;measured;2026-05-04;crew A;12.62;300;9.0;dry <-- plot-size-twice: a circle of 12.62 m has 500 m²
P06;511040.0;6027040.0;1;measured;2026-05-04;crew A;12.62;;5.0;dry <-- plot-without-stems: empty, or is the sheet lost?
P07;511260.0;6027150.0;2;empty;2026-05-04;crew A;12.62;;5.0;dry <-- plot-empty-with-stems: trees.csv has a stem on it
P08;6027100.0;511100.0;1;measured;2026-05-04;crew B;12.62;;7.0;rain <-- plot-outside: easting and northing changed places
P09;511200.0;6027060.0;2;measured;2026-05-04;crew B;12.62;;7.0;rain <-- plot-on-boundary: on the line between 1 and 2 | plot-crosses-boundary: half of the circle is in 1
P10;511192.0;6027110.0;1;measured;2026-05-05;crew B;12.62;;7.0;rain <-- plot-crosses-boundary: 8 m from the line, radius 12.62 m
P11;511300.0;6027300.0;3;measured;2026-05-05;crew B;12.62;;7.0;rain <-- plot-compartment-differs: the position is in 4
P12;511100.0;6027300.0;9;measured;2026-05-05;crew B;12.62;;7.0;rain <-- plot-compartment-unknown: there is no compartment 9
P13;511150.0;6027350.0;3;measured;2026-05-05;crew B;12.62;;;dry <-- slope-missing: laid out along a slope that is not given
P14;511050.0;6027350.0;3;measured;;crew B;12.62;;6.0;dry <-- plot-date-missing: its stems were measured with K1
P15;511050.0;6027250.0;3;lost;2026-05-05;crew B;12.62;;6.0;dry
P16;511350.0;6027350.0;4;mesured;2026-05-06;crew B;12.62;;6.0;dry <-- choice-unknown: mesured
P17;511350.0;6027250.0;4;measured;06/05/2026;crew B;12.62;;6.0;dry <-- date-unreadable: day or month first?
P18;511250.0;6027350.0;4;measured;2026-05-06;crew B;12.6 or 12.7;;6.0;dry <-- number-unreadable: two numbers in one cell
P19;511250.0;6027250.0;4;measured;2026-05-06;crew B;12.62;;17,5;dry <-- decimal-mixed: 17,5 among 10.5 and 12.0
P20;511300.0;6027230.0;4;measured;2026-05-06;crew B;12.62;;350;dry <-- value-out-of-range: 35.0 % was meant
;511330.0;6027330.0;4;measured;2026-05-06;crew B;12.62;;6.0;dry <-- value-missing: which plot is it?
;;;;;;;;;; <-- row-blank: nothing in it
""",
    "trees.csv": """\
plot,tree,species,d1_cm,d2_cm,girth_cm,instrument,bark_mm,times,height <-- column-without-unit: height, in metres or feet?
P01,1,oak,24.1,25.0,,K1,8,,
P01,2,oak,31.5,30.7,,K1,9,,
P01,2,oak,31.5,30.7,,K1,9,, <-- stem-twice: tree 2 of P01 is the row above
P01,3,oak,,,,K1,8,, <-- stem-without-diameter: neither reading nor girth
P01,4,oak,0.6,,,K3,,, <-- stem-not-positive: K3 reads 8 mm too much, so -0.2 cm are left
P01,5,oak,30.2,,30.5,,9,, <-- girth-like-diameter: a stem of 30.2 cm has a girth of about 95 cm
P01,6,oak,94.5,,30.0,,9,, <-- diameter-like-girth: the two cells changed places
P02,1,oak,21.3,31.2,,K1,7,, <-- readings-differ: 21.3 and 31.2 cm; is one of them a slip?
P02,2,oka,22.0,22.4,,K1,7,, <-- species-unknown: oka is not in species.csv
P02,3,oak,22.0,22.4,,K9,7,, <-- instrument-unknown: K9 is not in instruments.csv
P02,4,oak,,,75.0,K1,7,, <-- instrument-kind-differs: a girth, but K1 is a caliper
P02,5,oak,27.0,27.4,,K2,7,, <-- instrument-check-missing: K2 was first checked two weeks later
P02,6,oak,26.1,26.9,,K4,7,, <-- instrument-check-old: K4 was last checked three months before
P02,7,rowan,15.2,,,K1,,, <-- bark-unknown: rowan has no bark factor, and no bark was measured
P02,8,oak,19.6,,,K1,6,2, <-- times-without-mirage: counts twice, but the edge rule is whole
P99,1,oak,33.0,,,K1,9,, <-- stem-without-plot: there is no plot P99
P07,1,oak,18.3,,,K1,6,,
P08,1,oak,28.4,,,K1,8,,
P09,1,oak,26.0,,,K1,8,,
P10,1,oak,27.5,,,K1,8,,
P11,1,oak,23.1,,,K1,8,,
P12,1,oak,22.2,,,K1,8,,
P13,1,oak,29.8,,,K1,8,,
P14,1,oak,30.6,,,K1,8,,
P15,1,oak,24.4,,,K1,8,, <-- stem-on-unmeasured-plot: P15 is lost
""",
    "tallies.csv": """\
plot,species,class,count
P03,oak,ochre,4
P04,oak,ochre,6
P05,oak,slate,3
P16,oak,slate,7
P17,oak,ochre,5
P17,oak,ochre,2 <-- tally-twice: ochre oaks of P17 are the row above
P18,oak,crimson,5 <-- tally-class-unknown: no band is called crimson
P19,oak,20-40,5 <-- tally-class-unknown: classes are 10 cm wide
P20,oak,20-30,8
P15,oak,slate,2 <-- tally-on-unmeasured-plot: P15 is lost
P98,oak,slate,2 <-- tally-without-plot: there is no plot P98
""",
    "instruments.csv": """\
instrument,kind,date,zero_mm,bar_mm,bar_reading_mm
K1,caliper,2026-05-01,2,,
K2,caliper,2026-05-18,1,,
K3,caliper,2026-05-01,8,,
K4,caliper,2026-02-02,0,,
K5,caliper,2026-05-01,3,,
K5,caliper,2026-05-01,-1,, <-- instrument-check-twice: which zero was in force?
K6,caliper,2026-05-01,0,300,30.1 <-- bar-unusable: the bar was read in centimetres
""",
    "species.csv": """\
species,name,bark_factor
oak,Quercus petraea,0.93
rowan,Sorbus aucuparia,
""",
}


BROKEN_FILES = {
    "trees.csv": """\
plot,tree,species,d1_cm
P01,1,oak,24,1 <-- line-too-long: a decimal comma in a file separated by commas
P02,1,oak,31.5
""",
    "plots.csv": """\
<-- table-twice: plots.csv and plots.xlsx both hold the plots
plot,easting,northing
P01,511100.0,6027100.0
P02,511300.0,6027100.0
""",
    "species.csv": "<-- file-unreadable: the file is empty\n",
    "tree_list.csv": """\
<-- file-unused: tree_list is no table of plotmap; a copy of trees.csv left behind
plot,tree,species,d1_cm
P01,1,oak,24.1
""",
}

HEADING_ONLY = {
    "plots.csv": """\
plot,easting,northing
P01,511100.0,6027100.0
""",
    "trees.csv": """\
<-- no-rows: a heading and nothing below, though a plot was measured
plot,tree,species,d1_cm
""",
}

MISSING_TABLE = {
    "plots.csv": """\
plot,easting,northing
P01,511100.0,6027100.0
""",
    "trees.csv": """\
plot,tree,species,d1_cm
P01,1,oak,24.1
""",
}

WRONG_HEADINGS = {
    "plots.csv": """\
plot no,easting,northing <-- column-missing: plot is called plot no, and nothing maps it | column-near-miss: plot no may be plot
P01,511100.0,6027100.0
P02,511300.0,6027100.0
""",
    "trees.csv": """\
plot,tree,species,d1_cm,d1_mm,girth <-- column-twice: the first reading in cm and in mm | column-without-unit: girth, in cm or inches?
P01,1,oak,24.1,241,76
P02,1,oak,31.5,315,99
""",
}

CROOKED_MAP = {
    "plots.csv": """\
plot,easting,northing
P01,511060.0,6027100.0
P02,511330.0,6027100.0
""",
    "trees.csv": """\
plot,tree,species,d1_cm
P01,1,oak,24.1
P02,1,oak,31.5
""",
}

TWO_PLOTS_LON_LAT = {
    "plots.csv": """\
plot,lon,lat
P01,{lon},{lat}
""",
    "trees.csv": """\
plot,tree,species,d1_cm
P01,1,{species},24.1
P01,2,{species},31.5
""",
}
