"use strict";
/* What the card says about a compartment or a plot; made when it is opened. */
(function (plotmap) {
  const make = plotmap.make;
  const say = plotmap.say;
  const ESTIMATES = ["basal_area_m2_per_ha", "stems_per_ha", "basal_area_m2_total", "stems_total"];
  const SINGLE = ["dg_cm", "mean_dbh_cm", "sampling_error_pct"];
  const MOST_SPECIES = 6;
  const LARGE_ERROR = 2;
  const COUNTED = "full count";

  /* The status of a compartment in words. */
  plotmap.statusWords = function (survey, row) {
    const table = survey.compartments;
    const status = table.status[row];
    if (status === "no plots") return say("status_long_no_plots");
    if (status === "one plot") return say("status_long_one_plot");
    if (status === COUNTED) return say("status_long_full_count");
    if (status !== "estimated") return plotmap.tableWord(status);
    const from = { plots: plotmap.count(table.n_plots[row], "plots") };
    return say(survey.hatches[row] === LARGE_ERROR ? "status_long_large_error" : "status_long_estimated", from);
  };

  /* The status for a cell of a table. */
  plotmap.shortStatus = function (survey, row) {
    const word = plotmap.tableWord(survey.compartments.status[row]);
    return survey.hatches[row] === LARGE_ERROR ? say("status_large_error", { status: word }) : word;
  };

  function whyMissing(table, row, column) {
    if (table.status[row] === "no plots") return say("missing_no_plots");
    if (column === "sampling_error_pct") return say(table.status[row] === "one plot" ? "missing_one_plot" : "missing_no_basal_area");
    return say("missing_no_stems");
  }

  function figures(survey, row) {
    const table = survey.compartments;
    const fields = survey.fields.compartments;
    const noError = say(table.status[row] === "one plot" ? "no_error_one_plot" : "no_error");
    const single = SINGLE.map((column) => {
      const value = table[column][row];
      const label = plotmap.rowLabel(fields[column]);
      if (column === "sampling_error_pct" && plotmap.agree(table, "basal_area_m2_per_ha", row)) return make("tr", { "data-column": column }, label, plotmap.missingCell(say("plots_agree_below"), 3));
      if (value === null) return make("tr", { "data-column": column }, label, plotmap.missingCell(whyMissing(table, row, column), 3));
      return make("tr", { "data-column": column }, label, make("td", { class: "num value" }, plotmap.number(value, fields[column])), make("td", { colspan: 2 }));
    });
    return make(
      "table",
      { class: "figures" },
      plotmap.limitsHead(survey, true),
      make("tbody", {}, ...ESTIMATES.map((column) => plotmap.estimateRow(table, fields[column], column, row, noError, true)), ...single),
    );
  }

  function sizeClasses(survey, row) {
    const table = survey.size_classes;
    const rows = survey.classRows.get(row);
    if (!rows || !rows.some((entry) => table.stems_per_ha[entry] > 0)) return null;
    const found = new Map(rows.map((entry) => [table.class[entry], entry]));
    const numbers = [...found.keys()];
    const entries = [];
    for (let number = Math.min(...numbers); number <= Math.max(...numbers); number += 1) {
      const entry = found.get(number);
      const at = (column) => (entry === undefined ? null : table[column][entry]);
      entries.push({
        label: table.labels[number],
        short: table.short_labels[number],
        value: at("stems_per_ha") || 0,
        low: at("stems_per_ha_low"),
        high: at("stems_per_ha_high"),
      });
    }
    const bars = entries.some((entry) => entry.low !== null && entry.low < entry.high);
    const none = say(survey.compartments.status[row] === COUNTED ? "chart_full_count" : "chart_no_error");
    return make(
      "section",
      {},
      make("h3", {}, say("sizes")),
      plotmap.chart(entries, survey.survey, plotmap.fullName(survey, row)),
      make("p", { class: "note" }, bars ? say("chart_lines", { confidence: plotmap.percent(survey.survey.confidence_pct) }) : none),
    );
  }

  function speciesMix(survey, row) {
    const table = survey.species;
    const share = table[plotmap.SHARE];
    const rows = (survey.speciesRows.get(row) || []).filter((entry) => share[entry] > 0);
    if (!rows.length) return null;
    rows.sort((one, other) => share[other] - share[one]);
    const shares = rows.slice(0, MOST_SPECIES).map((entry) => [table.words[table.species[entry]], share[entry]]);
    const rest = rows.slice(MOST_SPECIES).reduce((total, entry) => total + share[entry], 0);
    if (rest > 0) shares.push([plotmap.count(rows.length - MOST_SPECIES, "more_species"), rest]);
    const items = shares.map(([name, part]) => {
      const bar = make("i", { class: "share" });
      bar.style.width = `${Math.min(100, Math.max(part, 0.5))}%`;
      const text = part < 0.5 ? "<\u00a01\u00a0%" : plotmap.percent(Math.round(part));
      return make("li", {}, make("span", { class: "species", title: name }, name), make("span", { class: "share-room", "aria-hidden": "true" }, bar), make("span", { class: "num" }, text));
    });
    return make("section", {}, make("h3", {}, say("species_head")), make("ul", { class: "mix" }, ...items));
  }

  /* A heading; the number of a compartment as it stands on the map. */
  plotmap.sheetTitle = (parts, under) => make("header", {}, make("h2", { tabindex: "-1" }, ...parts), under ? make("p", { class: "under" }, ...under) : null);

  function numbered(survey, row) {
    const number = survey.compartments.compartment[row];
    const name = plotmap.fullName(survey, row).slice(number.length);
    return [make("span", { class: "tag" }, number), name];
  }

  /* When a compartment was measured: the days of its first and last plot. */
  plotmap.measuredOn = function (dates, first, last) {
    if (first < 0) return null;
    const days = [first, last].map((number) => dates.words[number]);
    return first === last ? say("measured_on", { day: days[0] }) : say("measured_between", { first: days[0], last: days[1] });
  };

  function base(survey, row) {
    const table = survey.compartments;
    const fields = survey.fields.compartments;
    const known = table.status[row] !== "no plots";
    const area = table.area_ha[row] === null ? say("missing") : say("area_of", { area: plotmap.withUnit(table.area_ha[row], fields.area_ha), source: plotmap.tableWord(table.area_source[row]) });
    const counted = known && table.n_trees[row] !== null ? say("stems_counted", { n: plotmap.number(table.n_trees[row], fields.n_trees) }) : "";
    return say("base", { area: area, plots: plotmap.count(table.n_plots[row] || 0, "plots"), counted: counted });
  }

  plotmap.compartmentSheet = function (survey, row) {
    const table = survey.compartments;
    const fields = survey.fields.compartments;
    const known = table.status[row] !== "no plots";
    const stratum = plotmap.hasStrata(survey) && table.stratum[row] !== null ? [say("stratum", { name: table.stratum[row] })] : null;
    const days = plotmap.measuredOn(survey.dates, survey.dates.first[row], survey.dates.last[row]);
    const kind = plotmap.tableWord(table.interval[row]);
    return make(
      "article",
      { class: "sheet" },
      plotmap.sheetTitle(numbered(survey, row), stratum),
      make("p", { class: known && !survey.hatches[row] ? "status" : "status doubtful" }, plotmap.statusWords(survey, row)),
      make("p", { class: "base" }, base(survey, row)),
      days ? make("p", { class: "base days" }, days) : null,
      known ? figures(survey, row) : make("p", { class: "missing" }, say("card_no_plots")),
      known && table.interval[row] !== "none" && table.interval[row] !== null ? make("p", { class: "note kind" }, say("interval_kind", { kind: kind })) : null,
      known ? plotmap.agreeNote(table, fields, row, say("all_plots", { n: table.n_plots[row] })) : null,
      known ? sizeClasses(survey, row) : null,
      known ? speciesMix(survey, row) : null,
    );
  };

  /* Lines of a position, each with what can be copied. */
  function position(survey, row, place) {
    const copied = (name, text) => {
      const value = make("span", { class: "copied", tabindex: "0", title: say("click_then_copy") }, text);
      value.addEventListener("focus", () => getSelection().selectAllChildren(value));
      return make("div", {}, make("dt", {}, name), make("dd", {}, value));
    };
    const grid = survey.plots.position;
    const lines = [copied(say("lat_lon_degrees"), `${place.lat.toFixed(6)}, ${place.lng.toFixed(6)}`)];
    if (grid) {
      const at = (steps) => (steps[row] / grid.per_unit).toFixed(1);
      const names = { x: plotmap.sayOr("axis", grid.x_name), y: plotmap.sayOr("axis", grid.y_name), unit: grid.unit, crs: grid.crs };
      lines.unshift(copied(say("grid_position", names), `${at(grid.x)}, ${at(grid.y)}`));
    }
    return make("section", {}, make("h3", {}, say("position")), make("dl", { class: "position-lines" }, ...lines));
  }

  /* A button that leads to a compartment. */
  plotmap.compartmentLink = function (survey, row, goTo) {
    const button = make("button", { type: "button", class: "link" }, plotmap.fullName(survey, row));
    button.addEventListener("click", () => goTo(row, button));
    return button;
  };

  function home(survey, row, goTo) {
    const number = survey.plots.compartment[row];
    return number < 0 ? [say("plot_of_none")] : plotmap.sayWith("in_compartment", { name: plotmap.compartmentLink(survey, number, goTo) });
  }

  plotmap.plotSheet = function (survey, row, place, goTo) {
    const plots = survey.plots;
    const fields = survey.fields.plots;
    const aside = plotmap.word(plots.set_aside, row);
    const kind = plotmap.PLOT_STYLES[plotmap.plotKind(plots, row)].label;
    const line = (name, text) => make("tr", {}, make("th", { scope: "row" }, name), make("td", { class: "num" }, text));
    const numbers = ["area_m2", "share_inside", "slope_pct", "n_trees", "stems_per_ha", "basal_area_m2_per_ha", "dg_cm"]
      .filter((column) => plots[column][row] !== null)
      .map((column) => make("tr", { "data-column": column }, plotmap.rowLabel(fields[column]), make("td", { class: "num value" }, plotmap.number(plots[column][row], fields[column]))));
    const words = ["date", "design"].map((column) => [fields[column].title, plotmap.word(plots[column], row)])
      .filter(([, text]) => text !== null)
      .map(([name, text]) => [name, plotmap.tableWord(text)]);
    return make(
      "article",
      { class: "sheet" },
      plotmap.sheetTitle([say("plot", { name: plots.plot[row] })], home(survey, row, goTo)),
      make("p", { class: aside === null ? "status" : "status doubtful" }, aside === null ? say(kind) : say("plot_aside", { kind: say(kind), why: plotmap.tableWord(aside) })),
      make("table", { class: "figures" }, make("tbody", {}, ...words.map(([name, text]) => line(name, text)), ...numbers)),
      position(survey, row, place),
    );
  };
})(window.plotmap);
