"""Every finding that plotmap can make, declared once: code, severity, what it means and what to do.

The terminal, ``findings.csv``, the map and docs/findings.md all read this list. To add a check, add its
rule here, then the check that makes it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How much a finding matters: an error stops the run, the others do not."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class FindingRule:
    """One kind of finding.

    Attributes
    ----------
    code : str
        Stable name, in words.
    severity : Severity
        Whether the run goes on.
    title : str
        What is wrong, in a few words.
    meaning : str
        A paragraph for the documents: when it is made, what plotmap does with the row, why it matters.
    hint : str
        What to do about it.
    """

    code: str
    severity: Severity
    title: str
    meaning: str
    hint: str


_E, _W, _N = Severity.ERROR, Severity.WARNING, Severity.NOTE

_FILES = (
    FindingRule(
        "table-missing",
        _E,
        "A table is missing",
        "A survey needs survey.toml, compartments, plots, and trees or tallies. One of them is in none of the "
        "files of the folder, neither as a file of that name nor as a sheet or layer.",
        "Put a file of that name into the survey folder, or a sheet or layer of that name into its workbook.",
    ),
    FindingRule(
        "table-twice",
        _E,
        "A table is given twice",
        "Two files, sheets or layers of the folder hold the same table. Nothing says which is the right one, "
        "so none is taken.",
        "Keep one of them in the survey folder and move the other elsewhere; a file that plotmap new laid down and "
        "that you brought otherwise may be deleted.",
    ),
    FindingRule(
        "file-unreadable",
        _E,
        "A file cannot be read",
        "The file is empty, damaged, a folder, or not what its ending says; or its sheets and layers do not "
        "hold the table. The message carries what the reader said.",
        "Open the file in the program it came from and save it again in one of the formats of docs/field_files.md.",
    ),
    FindingRule(
        "file-unused",
        _N,
        "A file is not used",
        "A table or layer lies in the survey folder, but under a name or in a format plotmap does not know; or it "
        "holds a heading only, and the same table stands elsewhere too. It is left alone.",
        "Rename it if it is meant to be read; otherwise nothing needs to be done.",
    ),
    FindingRule(
        "map-layer-unusable",
        _W,
        "A layer for the map cannot be used",
        "Settings name a file or layer for the map that is not there, cannot be read, has no CRS, or has nothing "
        "near the compartments. The map is made without it; no figure depends on it.",
        "Correct [map] layers in survey.toml, or save the layer again with its CRS.",
    ),
    FindingRule(
        "map-species-unknown",
        _W,
        "The species to be shown first is unknown",
        "Settings name a species for the map that no stem and no row of the species table has. The map begins with "
        "the species that has the most basal area.",
        "Write [map] species in survey.toml as the species is written in the tables.",
    ),
    FindingRule(
        "table-overlooked",
        _W,
        "A sheet looks like a table, but is not read",
        "The headings of a sheet or layer fit one of plotmap's tables, but its name is another. Only sheets and "
        "layers that have the name of a table are read.",
        "Give the sheet or layer the name of the table if it is meant to be read.",
    ),
    FindingRule(
        "no-rows",
        _E,
        "A table has a heading and nothing below",
        "The compartments or the plots hold no row; or plots are marked measured, but no row of trees or tallies "
        "is there at all. There is nothing to compute from. Other tables may stay without rows.",
        "Fill the table. Plots without trees belong in plots, with the state empty.",
    ),
    FindingRule(
        "line-too-long",
        _E,
        "A line has more cells than the heading",
        "A line of a text file has more cells than there are headings, most often because a decimal comma or "
        "a comma in a remark stands in a file that is separated by commas.",
        "Separate the file by semicolons or tabs, or put the cell in double quotes.",
    ),
    FindingRule(
        "row-blank",
        _N,
        "Blank rows",
        "Rows without a single filled cell were passed over. They are counted in the ledger.",
        "Nothing needs to be done unless something should have been there.",
    ),
    FindingRule(
        "totals-row",
        _W,
        "Rows of totals were set aside",
        "A row has a word for totals in a column of words (total, sum, Σ and the like), and its numbers are the "
        "sums of the rows above, some perhaps their mean or number. It is no data and was set aside; the ledger "
        "counts it.",
        "Nothing needs to be done if the rows named hold totals.",
    ),
    FindingRule(
        "totals-row-doubtful",
        _W,
        "A row says total, but does not add up",
        "A row has a word for totals in a column of words, but its numbers are not the sums of the rows above. It "
        "may be a plot or stem of that name, so it is read as data like any other.",
        "Delete the row if it holds totals; otherwise nothing needs to be done.",
    ),
    FindingRule(
        "title-row",
        _W,
        "Titles between the rows were set aside",
        "A row of a workbook holds nothing but one text that is merged over several columns. It is a title and no "
        "data, and was set aside; the ledger counts it.",
        "If the title says something about the rows below it, as the plot they belong to, write that into a column.",
    ),
)

_HEADINGS = (
    FindingRule(
        "heading-row-found",
        _N,
        "Rows stand above the heading",
        "The heading of a file or sheet is not in its first row. The row most of whose cells are columns of the "
        "table, or headings mapped to them, was taken for it; it is looked for among the first 20 rows. The rows "
        "above it are titles and not read. Where two rows fit equally well, or none does, the table is not read, "
        "and file-unreadable says so.",
        "Nothing needs to be done if the message names the right row.",
    ),
    FindingRule(
        "column-missing",
        _E,
        "A column is missing",
        "A required column is not among the headings of the table; or a table of stems has no column of diameters or "
        "girths, or plots that need a position have no columns for it.",
        "Add the column, or map your own heading to it under [columns] in survey.toml.",
    ),
    FindingRule(
        "column-twice",
        _E,
        "A column is given twice",
        "Two headings stand for the same column, for instance d1_cm and d1_mm. Nothing says which is right.",
        "Keep one of the two headings.",
    ),
    FindingRule(
        "column-near-miss",
        _W,
        "A heading is nearly that of a column",
        "The heading is none that plotmap knows for this table, but close to one, or a common word for it. The "
        "column is not read: headings are never guessed.",
        "Give the column the name that is meant, or map it under [columns] in survey.toml.",
    ),
    FindingRule(
        "column-unknown",
        _N,
        "A column is not used",
        "The heading is none that plotmap knows for this table; the column is left alone.",
        "If it should be read, give it one of the names of docs/field_files.md or map it under [columns].",
    ),
    FindingRule(
        "column-without-unit",
        _W,
        "A heading lacks its unit",
        "The heading names a measurement without its unit, so it cannot be read: units are never guessed.",
        "Add the unit to the heading, as in girth_cm, d1_mm or slope_pct.",
    ),
)

_CELLS = (
    FindingRule(
        "number-unreadable",
        _E,
        "A number cannot be read",
        "A cell of a number column holds something else: letters, a unit of another kind, two numbers, a whole "
        "number with decimals. Point and comma are both taken as decimal mark.",
        "Write the number alone; the unit belongs in the heading.",
    ),
    FindingRule(
        "cell-error",
        _E,
        "A cell of a workbook shows an error",
        "A formula came to nothing: #REF!, #DIV/0! and the like. There is no value to read, and the cell is not "
        "blank either.",
        "Correct the formula, or write the value in its place.",
    ),
    FindingRule(
        "formula-without-value",
        _E,
        "A formula was never computed",
        "Workbooks keep the last value of every formula. The program that wrote this one left it out, so there is "
        "nothing to read.",
        "Open the workbook in the spreadsheet program and save it there, so that the values are stored.",
    ),
    FindingRule(
        "cells-merged",
        _N,
        "Merged cells were filled",
        "In a workbook, the value of merged cells stands in the first of them only. It was put into all of them, as "
        "where a plot number is merged over its stems. Rows that hold nothing else stay blank, a block that is "
        "alone in its rows is a title and stays as it is, and blank cells that are not merged are never filled.",
        "Look whether the value is meant for every row of the blocks that the message names.",
    ),
    FindingRule(
        "count-merged",
        _E,
        "A count is merged over several rows",
        "One count stands in cells that are merged over several rows of a workbook. It may be the sum of them all, "
        "or the count of each.",
        "Split the cells and write the count of each row.",
    ),
    FindingRule(
        "cells-coloured",
        _N,
        "Some cells are coloured",
        "Cells of a column have a fill. What a colour means is known to whoever chose it; plotmap reads values only.",
        "If a colour means something (struck off, dead, doubtful), write it into a column.",
    ),
    FindingRule(
        "comma-thousands",
        _W,
        "Commas that look like thousands",
        "Every comma of the column stands before exactly three digits, as in 1,000. They were read as decimal "
        "commas: 1,000 is one.",
        "If thousands are meant, write the numbers without the comma.",
    ),
    FindingRule(
        "decimal-mixed",
        _W,
        "Decimal points and commas in one column",
        "Some cells of the column have a decimal point and some a decimal comma. All were read as decimals; "
        "if one of the marks was meant to group thousands the values are wrong.",
        "Look at the rows with a comma and make the column uniform.",
    ),
    FindingRule(
        "unit-in-cell",
        _W,
        "Numbers have their unit in the cell",
        "Cells of a number column hold a unit beside the number, as in 25 cm. Where it is the unit of the heading, "
        "the number is taken; where it is another unit of the same kind, the number is converted into that of the "
        "heading, and the message says both. Units of another kind are errors (number-unreadable).",
        "Look at the cells named, above all at those in another unit, and write the number alone.",
    ),
    FindingRule(
        "other-digits",
        _N,
        "Numbers are written in other digits",
        "Cells of a number column are written in the decimal digits of another script (Arabic, Devanagari, Bengali, "
        "full width and all others of Unicode), with the decimal mark that goes with them. They are read as the "
        "same numbers. Digits of two scripts in one number are an error.",
        "Compare the number in the message with the sheet.",
    ),
    FindingRule(
        "identifier-other-digits",
        _W,
        "An identifier is spelled in other digits elsewhere",
        "An identifier is written in the digits of one script in one table and in those of another in the other "
        "table. Identifiers are never changed, so the two do not meet.",
        "Spell the identifier alike in both tables.",
    ),
    FindingRule(
        "identifier-is-date",
        _E,
        "A spreadsheet made a date of an identifier",
        "A cell in a column of identifiers is a date: the program took what was typed, 3-5 for instance, for the "
        "third of May. What was typed is not in the workbook any more; the message names what it may have been. "
        "It is not guessed.",
        "Format the column as text in the spreadsheet program, then type the identifier again.",
    ),
    FindingRule(
        "angle-in-parts",
        _N,
        "Degrees, minutes and seconds were read",
        "Cells of lon or lat are no plain decimal degrees, but degrees and minutes, or degrees, minutes and seconds, "
        "or carry a letter for the side (N, S, E, W). They are read as such; the message shows the first of them. "
        "docs/field_files.md lists the forms.",
        "Compare the degrees in the message with the sheet.",
    ),
    FindingRule(
        "date-unreadable",
        _E,
        "A date cannot be read",
        "Dates are written year-month-day, as in 2026-05-14, so that day and month cannot be mistaken.",
        "Write the date as YYYY-MM-DD.",
    ),
    FindingRule(
        "choice-unknown",
        _E,
        "A word is none of those allowed",
        "The column takes only certain words.",
        "Use one of the words allowed.",
    ),
    FindingRule(
        "value-missing",
        _E,
        "A required cell is blank",
        "The row cannot be used without this cell.",
        "Fill the cell or delete the row.",
    ),
    FindingRule(
        "value-out-of-range",
        _E,
        "A value is out of range",
        "The value lies outside what is possible in the field, most often because of a slipped decimal mark or "
        "another unit than the heading says.",
        "Correct the value, or the unit in the heading.",
    ),
)

_COMPARTMENTS = (
    FindingRule(
        "compartments-without-crs",
        _E,
        "The compartment layer has no CRS",
        "Without a coordinate reference system nobody can say where the polygons lie.",
        "Save the layer with its CRS (for a Shapefile: bring the .prj file too).",
    ),
    FindingRule(
        "crs-not-metric",
        _E,
        "The CRS is not metric, or is Web Mercator",
        "Plots are located and measured in metres on the ground. Degrees are not metres, and Web Mercator "
        "stretches metres (at 50° north by more than half). A projection that is off by more than 5 % at the "
        "compartments is refused too: World Mercator, or a UTM zone far away.",
        "Name a projected CRS in metres under [survey] crs, for instance the UTM zone of the survey.",
    ),
    FindingRule(
        "crs-distorts",
        _W,
        "Lengths are off in the CRS",
        "At the compartments a length in the survey's CRS is more than 1 % longer or shorter than on the ground, so "
        "areas of plot parts and distances are off by as much. Above 5 % it is an error (crs-not-metric). Areas of "
        "compartments are geodesic and not touched.",
        "Name a CRS made for this region under [survey] crs, for instance its UTM zone.",
    ),
    FindingRule(
        "datum-ballpark",
        _E,
        "The datum change is only a ballpark",
        "PROJ knows no accurate operation between the two datums; a ballpark can be off by hundreds of metres.",
        "Bring the layer or the plots in the datum of the survey's CRS.",
    ),
    FindingRule(
        "datum-shift",
        _N,
        "Positions change their datum",
        "Polygons or positions are in another datum than the survey's CRS, and PROJ moves them. The message names "
        "the operation, the accuracy its author stated, and how far it moves them; and a better operation that "
        "cannot be used because its grid file is not on this computer. Nothing is told where datums are alike to the "
        "millimetre and stated to be good to 1 m, as WGS 84 and ETRS89.",
        "Nothing needs to be done where that accuracy is enough. Otherwise put the grid file into the data folder of "
        "PROJ, or bring the positions in the datum of the survey's CRS.",
    ),
    FindingRule(
        "geometry-not-polygon",
        _E,
        "A compartment is not a polygon",
        "Compartments are areas; points and lines have none.",
        "Bring the polygon layer of the compartments.",
    ),
    FindingRule(
        "compartment-twice",
        _E,
        "A compartment comes twice",
        "Two polygons carry the same identifier. A compartment in several parts is one multi-part polygon.",
        "Merge the parts into one multi-part polygon, or correct the identifier.",
    ),
    FindingRule(
        "geometry-broken",
        _W,
        "A row of a layer has a broken geometry",
        "Of the outline in a layer that is not the compartments no geometry can be made: a ring that is not closed, "
        "for instance. The row is read without a geometry. In the compartments this is compartment-invalid.",
        "Repair the row in the program the layer came from.",
    ),
    FindingRule(
        "compartment-invalid",
        _E,
        "A polygon is invalid",
        "The boundary crosses or touches itself, so inside and outside are not defined. It is never repaired "
        "silently, as a repair may move the boundary.",
        "Repair the polygon where the message says, in the program the layer came from.",
    ),
    FindingRule(
        "compartment-empty",
        _E,
        "A compartment has no polygon",
        "The row has no geometry, or one of less than 1 m².",
        "Draw the polygon or delete the row.",
    ),
    FindingRule(
        "compartment-overlap",
        _E,
        "Two compartments overlap",
        "Two polygons overlap by more than one hundredth of the smaller one: plots and hectares there would "
        "count twice.",
        "Correct the common boundary.",
    ),
    FindingRule(
        "compartment-sliver",
        _W,
        "Two compartments overlap a little",
        "Two polygons overlap by more than 1 m², but by less than one hundredth of the smaller one, as happens "
        "when a boundary is drawn twice.",
        "Snap the common boundary; the hectares concerned are in the message.",
    ),
    FindingRule(
        "compartment-area-differs",
        _W,
        "Register and map disagree on the area",
        "The register area differs from the geodesic area of the polygon by more than 5 %. Totals are taken "
        "over the area the settings name.",
        "Find out which is right, or set [survey] areas.",
    ),
)

_PLOTS = (
    FindingRule(
        "plot-twice",
        _E,
        "A plot comes twice",
        "Two rows of plots carry the same identifier, so its stems cannot be attributed.",
        "Correct the identifier or delete one row.",
    ),
    FindingRule(
        "plot-without-position",
        _E,
        "A plot has no position",
        "A plot that enters the estimates has neither easting and northing nor lon and lat. A full count needs "
        "none; with assign = 'recorded' only the edge rules inside and positions need one.",
        "Fill in the coordinates, or set its state to lost or unvisited.",
    ),
    FindingRule(
        "plot-without-waypoint",
        _E,
        "A plot has neither coordinates nor a waypoint",
        "A GPX file lies beside the table of plots, and a plot that enters the estimates has no position in the "
        "table. No waypoint carries its name, letter for letter.",
        "Rename the waypoint or fill in the coordinates; or set the plot's state to lost or unvisited.",
    ),
    FindingRule(
        "waypoint-without-plot",
        _W,
        "A waypoint is no plot",
        "The GPX file beside the table of plots has a waypoint whose name is no plot, or that has no name. It is not "
        "used. A plot that differs in capitals, signs or leading zeros only is named in the message.",
        "Correct the name if it is meant for a plot; otherwise nothing needs to be done.",
    ),
    FindingRule(
        "waypoint-twice",
        _E,
        "Two waypoints of one plot",
        "Two waypoints of the GPX file carry the name of one plot. Nothing says which is right, so none is taken.",
        "Delete one of them, or correct its name.",
    ),
    FindingRule(
        "positions-twice",
        _N,
        "Plots have coordinates and a waypoint",
        "The table of plots has positions of its own, and the GPX file beside it has waypoints of the same plots. "
        "The table's positions are used. Where both are more than 5 m apart, plot-position-differs tells it.",
        "Clear the coordinates in the table if the waypoints are the better ones.",
    ),
    FindingRule(
        "positions-coarse",
        _W,
        "Longitude and latitude have too few decimals",
        "All lon and lat are multiples of a step of more than 5 m on the ground: four decimals are 11 m, three are "
        "111 m. Half a step about its position, at least one plot reaches out of the compartment found, so that it "
        "may lie in another.",
        "Write five decimals or more, or tenths of seconds.",
    ),
    FindingRule(
        "plot-without-compartment",
        _E,
        "A plot has no compartment",
        "With assign = 'recorded' a plot counts for the compartment the crew wrote, and the cell is blank; or a full "
        "count has neither a compartment nor a position.",
        "Fill in the compartment, or set the plot's state to lost or unvisited.",
    ),
    FindingRule(
        "plot-position-differs",
        _W,
        "Two positions of a plot differ",
        "The row gives easting and northing as well as lon and lat, or coordinates beside the layer's own point or a "
        "waypoint, and they are more than 5 m apart. Easting and northing go before lon and lat, columns before the "
        "point, and all of them before the waypoint.",
        "Find out which is right and clear the other.",
    ),
    FindingRule(
        "plot-without-size",
        _E,
        "A plot has no size",
        "Neither the row nor the settings give a radius or an area, so nothing can be said per hectare.",
        "Give radius_m or area_m2, in the row or under [plots].",
    ),
    FindingRule(
        "plot-size-twice",
        _E,
        "The sizes of a plot contradict each other",
        "The row gives a radius, or length and width, that do not come to its area; or a size that plots of this "
        "design do not have, such as the radius of a rectangle or the basal area factor of a circle.",
        "Keep the cell that is right and clear the other, or write the design of the plot in its row.",
    ),
    FindingRule(
        "no-plots-left",
        _E,
        "No plot enters the estimates",
        "Every plot is set aside: lost, unvisited, or outside all compartments. There is nothing to estimate from, "
        "and earlier results are not replaced by empty ones.",
        "Check the states of the plots, and their coordinates and CRS against the compartments.",
    ),
    FindingRule(
        "plot-without-stems",
        _W,
        "A measured plot has no stems",
        "The plot is marked measured but no stem names it. It counts as a plot without trees.",
        "Set its state to empty if there were none, to lost if the sheet is missing.",
    ),
    FindingRule(
        "plot-empty-with-stems",
        _E,
        "An empty plot has stems",
        "The plot is marked empty, but stems name it.",
        "Correct the state of the plot or the plot of the stems.",
    ),
    FindingRule(
        "plot-outside",
        _W,
        "A plot lies outside all compartments",
        "The position is in no polygon. The plot and its stems are set aside, since they belong to no "
        "compartment; with assign = 'recorded' they count for the compartment the crew wrote.",
        "Check the coordinates (and their order); the nearest compartment is in the message.",
    ),
    FindingRule(
        "plots-elsewhere",
        _E,
        "Most plots lie outside all compartments",
        "More than half of the plots are in no polygon. What goes wrong most often is tried (longitude and latitude "
        "exchanged, easting and northing exchanged, a sign left out, another UTM zone, degrees in metre columns), "
        "and the message says what would bring the plots in. Nothing is applied.",
        "Correct the coordinates, the headings or [survey] crs as the message says, after looking at a map.",
    ),
    FindingRule(
        "plot-on-boundary",
        _W,
        "A plot lies on a shared boundary",
        "The centre lies on the boundary of two or more compartments. It goes to the one the crew wrote if that "
        "is one of them, otherwise to the first of them in alphabetical order. With assign = 'recorded' it counts "
        "for the compartment the crew wrote.",
        "Write the compartment in the plots table if another is right.",
    ),
    FindingRule(
        "plot-near-boundary",
        _N,
        "A plot is nearer to a boundary than positions are good",
        "[plots] position_error_m says how good positions are, and the plot is closer to the boundary of its "
        "compartment than that: it may lie in the neighbour, or outside. The message gives the distances to the "
        "nearest neighbour and to the outer edge of all compartments (gaps between them count as outside).",
        "Compare with the sheet; let the crew write the compartment, and set [plots] assign if that is to count.",
    ),
    FindingRule(
        "plot-in-overlap",
        _W,
        "A plot lies where compartments overlap",
        "The centre lies inside two or more polygons. It goes to the one the crew wrote if that is one of them, "
        "otherwise to the first of them in alphabetical order.",
        "Correct the common boundary, or write the compartment in the plots table.",
    ),
    FindingRule(
        "plot-crosses-boundary",
        _N,
        "A plot reaches over its compartment's boundary",
        "Under the edge rule whole the trees beyond the boundary count for the plot's compartment, which blurs "
        "the difference between neighbours, and land without trees beyond the survey's edge biases the result "
        "downwards.",
        "Nothing needs to be done if the crews tallied whole circles; otherwise set [plots] edge.",
    ),
    FindingRule(
        "edge-not-for-design",
        _W,
        "The edge rule does not fit a plot's own design",
        "The part of a plot inside a compartment is known of circles and rings only, so that edge = 'inside' fits "
        "circle and nested, and edge = 'positions' fits circle alone. Plots that name another design are taken as "
        "whole: all their stems count for the plot's compartment. If their crews left out stems beyond a boundary, "
        "the result is too low.",
        "Nothing needs to be done if these plots were tallied whole; otherwise set them to lost.",
    ),
    FindingRule(
        "plot-compartment-differs",
        _W,
        "Crew and position disagree on the compartment",
        "The crew wrote another compartment than the one the position lies in. The settings ([plots] assign) "
        "say which of the two is used.",
        "Check the coordinates and the sheet.",
    ),
    FindingRule(
        "plot-compartment-unknown",
        _W,
        "The crew's compartment is not in the layer",
        "The crew wrote a compartment that no polygon carries. With assign = 'recorded' the plot is set aside.",
        "Correct the spelling in the plots table.",
    ),
    FindingRule(
        "full-count-with-plots",
        _E,
        "A compartment has a full count and plots",
        "The compartment was counted whole, so it has no sampling error; sample plots in it would count its stems "
        "a second time.",
        "Set the state of these plots to unvisited, or correct their compartment or design.",
    ),
    FindingRule(
        "slope-missing",
        _W,
        "A plot laid out along the slope has no slope",
        "With slope = 'ground' the area needs the slope. The plot is taken as level, which makes the result too "
        "low by 1 - cos(slope).",
        "Fill in slope_pct or slope_deg.",
    ),
    FindingRule(
        "plot-date-missing",
        _W,
        "A plot with instrument readings has no date",
        "The check of the instrument that was in force depends on the day. Without one the readings stay "
        "uncorrected.",
        "Fill in the date of the plot.",
    ),
)

_STEMS = (
    FindingRule(
        "stem-without-plot",
        _E,
        "A stem names a plot that is not there",
        "The plot is not in the plots table.",
        "Add the plot to the plots table or correct the plot of the stem.",
    ),
    FindingRule(
        "stem-on-unmeasured-plot",
        _W,
        "Stems on a plot that was not measured",
        "The plot is marked lost or unvisited but stems name it. They are set aside with the plot.",
        "Set the state of the plot to measured if the stems are complete.",
    ),
    FindingRule(
        "stem-twice",
        _E,
        "A stem comes twice",
        "Two rows of one plot carry the same tree number.",
        "Delete the row that was entered twice, or number forked stems apart (7a, 7b).",
    ),
    FindingRule(
        "stem-without-diameter",
        _E,
        "A stem has no diameter",
        "The row has neither a caliper reading nor a girth. Leaving it out would make the stand too thin.",
        "Fill in a reading, or tally the stem by class.",
    ),
    FindingRule(
        "stem-not-positive",
        _E,
        "Nothing is left of a diameter after correction",
        "Zero, climber or bark take off more than was read.",
        "Check the reading, the zero check and the climber of this stem.",
    ),
    FindingRule(
        "girth-like-diameter",
        _W,
        "A girth looks like a diameter",
        "Where a stem has both, girth and caliper reading are nearly equal, though a girth is π times a "
        "diameter; or the girths of a plot, divided by π, are about a third of the diameters around it. "
        "Nothing is converted.",
        "If diameters were written in the girth column, move them to d1_cm.",
    ),
    FindingRule(
        "diameter-like-girth",
        _W,
        "A diameter looks like a girth",
        "Where a stem has both, the caliper reading is about π times the girth; or the diameters of a plot are "
        "about π times those around it. Nothing is converted.",
        "If girths were written in the diameter column, move them to girth_cm.",
    ),
    FindingRule(
        "readings-differ",
        _W,
        "Readings of one stem differ much",
        "The largest and the smallest diameter of the stem differ by more than the share stated under [stems] "
        "max_reading_difference_pct. The mean is used all the same.",
        "Look for a slipped digit; very oval stems do occur.",
    ),
    FindingRule(
        "species-unknown",
        _W,
        "A species is not in the species table",
        "The stem keeps the species as written and is reported under it.",
        "Correct the spelling or add the species to the species table.",
    ),
    FindingRule(
        "instrument-unknown",
        _W,
        "An instrument is not in the instruments table",
        "There is no check of the instrument, so its readings stay uncorrected.",
        "Correct the mark or add its checks to the instruments table.",
    ),
    FindingRule(
        "species-twice",
        _E,
        "A species comes twice",
        "Two rows of the species table carry the same spelling. Nothing says whose bark factor and group are right.",
        "Delete one of the rows.",
    ),
    FindingRule(
        "spelling-differs-in-capitals",
        _W,
        "Two spellings differ only in capitals",
        "A species, or the class of a tally, is written in two ways that differ only in capitals, as in Oak and oak. "
        "They are taken for two, each reported under its own spelling.",
        "Write both the same way, as in the species table or under [classes] bands.",
    ),
    FindingRule(
        "instrument-not-recorded",
        _W,
        "Rows name no instrument",
        "There is a table of instruments, but stems do not say what they were measured with, so nothing is corrected "
        "there. Of tallies it is only said where other rows name one.",
        "Fill in the column instrument.",
    ),
    FindingRule(
        "instrument-unused",
        _N,
        "An instrument was checked but not used",
        "No stem and no tally names the instrument. Its checks correct nothing.",
        "Compare the marks in the column instrument of the stems with those of the instruments table.",
    ),
    FindingRule(
        "instrument-kind-differs",
        _W,
        "A reading does not fit its instrument",
        "A girth was read with what the instruments table calls a caliper, or the reverse. The reading stays "
        "uncorrected.",
        "Correct the instrument of the stem or its kind.",
    ),
    FindingRule(
        "instrument-check-missing",
        _W,
        "No check before the first reading",
        "The instrument was checked, but only after the day of the reading. The reading stays uncorrected.",
        "Check instruments before the first plot; add an earlier check if there was one.",
    ),
    FindingRule(
        "instrument-check-old",
        _W,
        "The last check is old",
        "The check in force is older than [stems] check_days. It is used all the same.",
        "Check the instrument more often.",
    ),
    FindingRule(
        "instrument-check-twice",
        _E,
        "Two checks of an instrument on one day disagree",
        "Rows of one instrument and day are repeated readings of one bar, but these disagree on the zero, the bar or "
        "the kind. Nothing says which was in force.",
        "Keep one of the rows.",
    ),
    FindingRule(
        "bar-unusable",
        _E,
        "A check bar gives no gain",
        "A reading of the bar less the zero is not positive, or its gain is outside 0.8 to 1.25: that is no "
        "caliper reading of this bar. Or the size of the bar is given without its reading, or the reverse.",
        "Check bar_mm, bar_reading_mm and zero_mm and their units.",
    ),
    FindingRule(
        "instrument-gain",
        _W,
        "An instrument needs to be adjusted",
        "The gain that the check bar shows is farther from 1 than [stems] max_gain_off_pct. Readings are corrected "
        "by it all the same; for a caliper the message says how far its jaw leans.",
        "Adjust the instrument, and check it again before it is used.",
    ),
    FindingRule(
        "instrument-moved",
        _W,
        "An instrument changed between two checks",
        "Zero or gain moved by more than [stems] max_zero_move_mm or max_gain_move_pct since the check before. "
        "Nobody knows on which day, so the readings between the two checks are less certain than the others.",
        "Check more often. [stems] interpolate_checks = true spreads the change over the days between.",
    ),
    FindingRule(
        "single-reading-oval",
        _W,
        "One reading of an oval species",
        "The species table says that stems of the species are oval, but some have a single caliper reading. It may "
        "be the long or the short way; it is used as it stands.",
        "Take two readings at right angles, or the girth.",
    ),
    FindingRule(
        "climber-without-size",
        _W,
        "A climber was not measured",
        "A girth was read round a stem with a climber, but the climber's diameter is not given. The stem is kept "
        "with the girth as it was read, which makes it too thick; the trees table marks it.",
        "Fill in climber_mm, or measure the stem with a caliper beside the climber.",
    ),
    FindingRule(
        "rounding-not-whole",
        _W,
        "Readings were not rounded down",
        "The settings say that crews wrote whole centimetres and cut off the rest, but some readings have decimals. "
        "Nothing is added back to these.",
        "Set [stems] rounding = 'none' if crews wrote what they read.",
    ),
    FindingRule(
        "readings-look-like-other-unit",
        _W,
        "Readings look like another unit",
        "The median of a column of ten readings or more is one that trees hardly have by the unit of the heading: "
        "below 3 cm or above 100 cm of diameter. Basal area goes with the square, so that a wrong unit makes it a "
        "hundred times too large or too small. Nothing is converted.",
        "Head the column with the unit that was read.",
    ),
    FindingRule(
        "bark-unknown",
        _E,
        "Bark is to be taken off or put on, but is not known",
        "The stem was read over bark and results are under bark, or the reverse, and it has neither bark_mm nor a "
        "species with a bark_factor.",
        "Give bark_mm, or bark_factor in the species table, or set [stems] bark to what was read.",
    ),
    FindingRule(
        "times-without-mirage",
        _E,
        "A stem counts more than once without mirage",
        "The column times is only for trees tallied again by mirage; with another edge rule the edge would be "
        "corrected twice, or not at all.",
        "Set [plots] edge = 'mirage', or clear the column times.",
    ),
    FindingRule(
        "stem-beyond-radius",
        _W,
        "A stem stands farther out than its plot reaches",
        "The level distance to the stem's axis is larger than the radius of the plot, or of the ring of a nested "
        "plot that its size belongs to. The stem counts all the same, unless edge = 'positions' puts it in a "
        "compartment that the circle does not reach.",
        "Check distance and radius; strike the stem if it stands outside.",
    ),
    FindingRule(
        "stem-beyond-limit",
        _W,
        "A stem of an angle count stands beyond its limiting distance",
        "At this distance a stem of this diameter is too thin to count with the basal area factor of the plot. The "
        "stem counts all the same.",
        "Check distance and diameter; strike the stem if it is out.",
    ),
    FindingRule(
        "stem-without-position",
        _E,
        "A stem has no position",
        "With edge = 'positions' every compartment gets the stems that stand in it, so every stem needs azimuth and "
        "distance.",
        "Fill in azimuth_deg and distance_m, or use another edge rule.",
    ),
    FindingRule(
        "over-bark-unknown",
        _W,
        "A stem was taken over bark, but its bark is not known",
        "Rings and angle counts take stems by their size over bark, as crews see them; what a stem stands for goes "
        "by that size, whatever the basis of the results. The stem was read under bark and has neither bark_mm nor a "
        "species with a bark_factor, so that it stands for a little too much.",
        "Give bark_mm, or bark_factor in the species table.",
    ),
    FindingRule(
        "stem-below-rings",
        _W,
        "A stem is too thin for every ring",
        "The stem is thinner than the smallest ring of the nested plot asks for. It is set aside.",
        "Nothing needs to be done if thin stems were written along; otherwise check the diameter.",
    ),
)

_HEIGHTS = (
    FindingRule(
        "height-below-breast-height",
        _W,
        "A tree is not higher than breast height",
        "The stem has a diameter at breast height, so it must be higher than that. The height is not used: the stem "
        "gets that of the height curve.",
        "Check the height and its unit; feet belong in a column height_ft.",
    ),
    FindingRule(
        "height-not-plausible",
        _W,
        "A tree is too slender or too stout",
        "Height over diameter, both in metres, is outside [heights] min_slenderness to max_slenderness. The height "
        "is used all the same, and pulls the height curve.",
        "Check height and diameter for a slipped digit; strike the height of a broken stem out.",
    ),
    FindingRule(
        "height-of-dead-stem",
        _N,
        "A dead stem has a height",
        "The settings count dead stems, but many are broken: their heights do not enter the height curve, the mean "
        "height and the top height. Their own volume is computed with them.",
        "Nothing needs to be done.",
    ),
    FindingRule(
        "too-few-heights",
        _N,
        "A species has too few heights for a curve",
        "Fewer live stems of the species have a height than [heights] min_pairs. Stems without a height take that of "
        "the curve of all species; where all together are too few there is none, and mean heights are missing "
        "wherever a stem was not measured.",
        "Measure more heights over all diameters, or give the species a group in the species table.",
    ),
    FindingRule(
        "volume-without-equation",
        _W,
        "A species has no volume equation",
        "Volume is asked for, by equations or form factors, but a species that stands on the plots has neither. No "
        "volume is given for it, nor for all species together, where it stands.",
        "Add an equation under [[volume.equations]] (species = '*' serves all others), or a form factor in the "
        "species table.",
    ),
)

_TALLIES = (
    FindingRule(
        "tally-without-plot",
        _E,
        "A tally names a plot that is not there",
        "The plot is not in the plots table.",
        "Add the plot to the plots table or correct the plot of the tally.",
    ),
    FindingRule(
        "tally-on-unmeasured-plot",
        _W,
        "A tally on a plot that was not measured",
        "The plot is marked lost or unvisited but a tally names it. It is set aside with the plot.",
        "Set the state of the plot to measured if the tally is complete.",
    ),
    FindingRule(
        "tally-class-unknown",
        _E,
        "A tally class fits no class",
        "The class is neither the name of a painted band of the settings nor one of the survey's size classes.",
        "Use the edges of a class, as in 10–20, or add the band under [classes] bands.",
    ),
    FindingRule(
        "tally-below-threshold",
        _W,
        "A tally begins below the smallest diameter",
        "The class or band begins below [stems] min_dbh_cm. Measured stems below it are set aside, but tallied ones "
        "all count, so that plots of the two kinds do not compare.",
        "Set [stems] min_dbh_cm to the lowest edge of the tally, or tally from the smallest diameter up.",
    ),
    FindingRule(
        "tally-over-bark",
        _W,
        "Tallies are not brought under bark",
        "The results are under bark, but crews tally by what the caliper shows over it, and a class cannot be "
        "brought from one basis to the other stem by stem. The classes are taken as they are written. If they are "
        "over bark, basal area of the tallied stems is too large: with a bark factor of 0.9 by almost a quarter.",
        "Set [stems] bark = 'over', or see to it that the edges of classes and bands are sizes under bark.",
    ),
    FindingRule(
        "tally-not-positive",
        _E,
        "Nothing is left of a tallied class after correction",
        "The zero of the instrument is as large as the upper edge of the class or band, so that no stem is in it.",
        "Check the zero of the instrument and its unit, and the edges of the band.",
    ),
    FindingRule(
        "band-edges-moved",
        _N,
        "A correction moved the edges of tallied classes",
        "The instrument that the stems were tallied by had a zero or gain in force, so that its marks stood at other "
        "sizes than they say. The edges are moved; the counts stay.",
        "Nothing needs to be done.",
    ),
    FindingRule(
        "bands-hard-to-tell-apart",
        _W,
        "Two bands look alike",
        "The colours of two bands are hard to tell apart, for normal sight or with one of the common colour-vision "
        "deficiencies (deuteranopia, protanopia, tritanopia), so that stems may be tallied in the wrong band.",
        "Paint one of them in another colour, or tally by the letters of the bands.",
    ),
    FindingRule(
        "tally-twice",
        _W,
        "A class is tallied twice on one plot",
        "Plot, species and class come twice. The counts are added up.",
        "Delete the row if it was entered twice.",
    ),
    FindingRule(
        "tally-without-position",
        _E,
        "A tally on a plot whose stems need positions",
        "With edge = 'positions' every compartment gets the stems that stand in it; tallied stems have no position.",
        "Measure these stems with azimuth and distance, or use another edge rule.",
    ),
    FindingRule(
        "tally-across-rings",
        _W,
        "A tallied class reaches over the edge of a ring",
        "On a nested plot the ring a stem counts on depends on its size, and the class holds sizes of two rings. The "
        "stems count on the ring of their mean diameter.",
        "Make a class edge of every min_dbh_cm of the rings, or measure the stems.",
    ),
)

_CHECK_MEASUREMENTS = (
    FindingRule(
        "check-plot-unknown",
        _E,
        "A check stem names a plot that is not there",
        "The plot of a row of check_trees is not in the plots table, so there is nothing to compare it with.",
        "Correct the plot of the check stem, or add the plot to the plots table.",
    ),
    FindingRule(
        "check-on-unmeasured-plot",
        _W,
        "Check stems on a plot that was not measured",
        "The plot is marked lost or unvisited, so the crew has nothing that the check could be compared with. The "
        "rows are set aside.",
        "Correct the plot of the check stem or the state of the plot.",
    ),
    FindingRule(
        "check-stem-twice",
        _E,
        "A check stem comes twice",
        "Two rows of check_trees carry the same plot and tree number. A plot is checked once.",
        "Delete the row that was entered twice, or number forked stems apart (7a, 7b).",
    ),
    FindingRule(
        "check-without-pairs",
        _W,
        "A checked plot has no stem in common",
        "No stem of the check finds a partner among the stems that the crew found on the plot, by number, "
        "position, size or tally. Most often the check was written down under another plot.",
        "Look at the plot of the check; the limits for partners are under [check] match_position_m and match_mm.",
    ),
    FindingRule(
        "check-stems-missed",
        _W,
        "Stems missed by the crew",
        "The check found stems that count and have no partner among the stems of the crew. Basal area and stem "
        "number are too low there. The estimates do not change.",
        "Look at the rows named; a stem under another number is found by its position, if both measured it.",
    ),
    FindingRule(
        "check-stems-extra",
        _W,
        "Stems that only the crew found",
        "Stems of the crew that count have no partner among the stems of the check: they may stand outside the "
        "plot, or have been counted twice. The estimates do not change.",
        "Look at the rows of check_differences with the outcome extra.",
    ),
    FindingRule(
        "check-bias",
        _W,
        "A crew measures too high or too low",
        "The mean difference between the crew and the check is more than [check] bias_mm, and its confidence "
        "interval leaves out zero. It does not become smaller with more plots. Nothing is corrected by it.",
        "Look for the cause (height of measurement, pressure of the jaws, a zero not taken); measure again or "
        "correct the readings at their source.",
    ),
    FindingRule(
        "check-outside-tolerance",
        _W,
        "Too few diameters of a crew are within the tolerance",
        "The share of pairs whose diameters differ by no more than [check] tolerance_mm or tolerance_pct, "
        "whichever is larger, is below [check] min_within_pct.",
        "Look at the rows of check_differences that are not within; train the crew, or measure again.",
    ),
)

_CHANGE = (
    FindingRule(
        "pair-moved",
        _W,
        "A plot is not where it was",
        "Two surveys are compared, and a plot has positions farther apart than [compare] pair_distance_m. It is "
        "taken as two plots that have the name by chance: both enter, without the gain of a plot visited twice.",
        "Look which position is wrong, or raise pair_distance_m where positions are that rough.",
    ),
    FindingRule(
        "pair-other-area",
        _N,
        "A plot was laid out anew with another area",
        "Two surveys are compared, and a plot has another area than before. Its figures per hectare are compared; "
        "its stems are not followed, because the larger plot holds stems that the smaller one never saw.",
        "Nothing, if the plot was enlarged on purpose; otherwise look at radius, slope and edge rule.",
    ),
    FindingRule(
        "pair-not-numbered",
        _N,
        "The stems of a plot cannot be followed",
        "Two surveys are compared, and on a plot visited twice a stem has no number, or a number is there twice. "
        "Figures per hectare are compared; growth, ingrowth and mortality are not told apart there.",
        "Number every stem that counts, and use the same numbers again.",
    ),
    FindingRule(
        "pair-out-of-order",
        _W,
        "The new visit is not later than the old one",
        "Two surveys are compared, and the date of a plot in the new survey is the same as in the old one or before "
        "it. Its change enters; changes per year are wrong for it.",
        "Look at both dates, and whether the two folders were named in the right order.",
    ),
    FindingRule(
        "boundary-changed",
        _W,
        "A compartment has another boundary than before",
        "Two surveys are compared, and more land than [compare] boundary_pct lies in only one of the two outlines. "
        "Figures per hectare of both are given and no change: it would mix growth with land that changed sides.",
        "Use one layer of compartments for both surveys, or read the two figures for what they are.",
    ),
    FindingRule(
        "stem-shrank",
        _W,
        "A stem is thinner than before",
        "Two surveys are compared, and the diameter of a stem with the same number is smaller by more than [compare] "
        "max_shrinking_cm. It enters as it is.",
        "Look for a wrong number, another height of measurement, lost bark, or a slip of the pen.",
    ),
    FindingRule(
        "stem-grew-fast",
        _W,
        "A stem grew too fast",
        "Two surveys are compared, and the diameter of a stem with the same number grew by more than [compare] "
        "max_growth_cm_per_year. It enters as it is.",
        "Look for a wrong number or a slip of the pen.",
    ),
    FindingRule(
        "stem-new-and-thick",
        _W,
        "A stem is new but too thick to be new",
        "Two surveys are compared, and a stem that is not in the old one is thicker than a stem just below the "
        "smallest diameter could have grown to. It counts as ingrowth.",
        "It was missed before, has another number, or stands outside the plot: look at the plot.",
    ),
    FindingRule(
        "stem-other-species",
        _N,
        "A stem is of another species than before",
        "Two surveys are compared, and a stem with the same number has two species. Each survey counts it as its own "
        "sheet has it.",
        "Look at the stem, and correct the sheet that is wrong.",
    ),
)

_SAMPLES = (
    FindingRule(
        "one-plot-refused",
        _E,
        "A sample has one plot, and the settings refuse that",
        "A compartment (or a stratum, where [estimates] sample_of says so) has one plot, which tells nothing about "
        "its error. The settings have one_plot_variance = 'refuse', or 'merge' without naming another one with plots "
        "in merge_into.",
        "Measure another plot, name a partner in merge_into, or choose 'missing' or 'pooled' in the settings.",
    ),
    FindingRule(
        "sampled-area-too-large",
        _E,
        "The plots of a compartment are as large as the compartment",
        "With [estimates] finite_population = true the share of a compartment's area that its plots cover is taken "
        "off the variance, and it must be below one. The plots cover as much as there is, or more.",
        "Correct the areas of the plots or of the compartment; a compartment that was counted whole has the "
        "design 'full'.",
    ),
    FindingRule(
        "no-sampled-area",
        _W,
        "No share of a sample's area is known",
        "With [estimates] finite_population = true the share of the area that the plots cover is taken off the "
        "variance. Angle counts have no area, and plots of several designs in one sample weigh alike, whatever their "
        "areas are. Its error stays as it is, which is on the safe side, and sampling_fraction is missing.",
        "Nothing needs to be done unless the plots were meant to be of one design with an area.",
    ),
)

_PRESCRIPTIONS = (
    FindingRule(
        "prescription-without-place",
        _E,
        "A rule of thinning is for nothing, or for two things",
        "A row of prescriptions names neither a compartment nor a stratum, or both. Nothing says where it holds.",
        "Name a compartment or a stratum, one of them.",
    ),
    FindingRule(
        "prescription-elsewhere",
        _E,
        "A rule of thinning is for a compartment that is not there",
        "A row of prescriptions names a compartment or a stratum that the layer of compartments does not have.",
        "Correct the name, or take the row out.",
    ),
    FindingRule(
        "prescription-twice",
        _E,
        "Two rules of thinning are for one compartment",
        "A compartment, or a stratum, is named by two rows of prescriptions, and nothing says which holds. A rule "
        "for a compartment and one for its stratum are no fault: the compartment's own goes before.",
        "Keep one of the rows.",
    ),
    FindingRule(
        "prescription-incomplete",
        _E,
        "A rule of thinning lacks a figure",
        "A rule has no trigger of its criterion, no residual, not all that its kind of removal needs, or is about "
        "relative density without the largest Reineke indexes in the settings. plotmap has no figures of its own.",
        "Fill in the column that the message names.",
    ),
    FindingRule(
        "prescription-contradictory",
        _E,
        "A rule of thinning contradicts itself",
        "What is to stay is as dense as what calls for thinning, or less than the smallest residual; two residuals "
        "are given; or a figure belongs to another criterion or kind of removal.",
        "Correct one of the two figures, or leave the needless one out.",
    ),
    FindingRule(
        "prescription-species-unknown",
        _E,
        "A species that is never to be cut is not known",
        "The column never_cut of a rule names a species that is neither on a field sheet nor in the species table. "
        "If it is only spelt otherwise, the species would not be spared.",
        "Write it as the field sheets do, with semicolons between species; or take it out.",
    ),
)

RULES: dict[str, FindingRule] = {
    rule.code: rule
    for rule in (
        *_FILES,
        *_HEADINGS,
        *_CELLS,
        *_COMPARTMENTS,
        *_PLOTS,
        *_STEMS,
        *_HEIGHTS,
        *_TALLIES,
        *_CHECK_MEASUREMENTS,
        *_CHANGE,
        *_SAMPLES,
        *_PRESCRIPTIONS,
    )
}
"""Every rule by its code, in the order of the documents."""
