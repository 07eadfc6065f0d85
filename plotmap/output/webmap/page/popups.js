"use strict";
/* What the card says about a compartment or a plot; made when it is opened. */
(function (plotmap) {
  const make = plotmap.make;
  const ESTIMATES = ["basal_area_m2_per_ha", "stems_per_ha", "basal_area_m2_total", "stems_total"];
  const SINGLE = ["dg_cm", "mean_dbh_cm", "sampling_error_pct"];
  const MOST_SPECIES = 6;
  const LARGE_ERROR = 2;
  const COUNTED = "full count";

  /* The status of a compartment in words. */
  plotmap.statusWords = function (survey, row) {
    const table = survey.compartments;
    const status = table.status[row];
    if (status === "no plots") return "No plots: nothing is known here.";
    if (status === "one plot") return "One plot: no error can be given.";
    if (status === COUNTED) return "Every stem was counted: there is no sampling error.";
    if (status !== "estimated") return status;
    const from = `Estimated from ${plotmap.count(table.n_plots[row], "plot", "plots")}`;
    return survey.hatches[row] === LARGE_ERROR ? `${from}; the error is large.` : `${from}.`;
  };

  /* The status for a cell of a table. */
  plotmap.shortStatus = (survey, row) => `${survey.compartments.status[row]}${survey.hatches[row] === LARGE_ERROR ? ", large error" : ""}`;

  /* Whether an estimate has no width because its plots happen to agree. */
  plotmap.agree = (table, column, row) => table.status[row] === "estimated" && !table.hasCounts && table[`${column}_half`][row] === 0;

  plotmap.agreeNote = function (table, fields, row, whose) {
    const titles = ["basal_area_m2_per_ha", "stems_per_ha"].filter((column) => plotmap.agree(table, column, row)).map((column) => fields[column].title);
    return titles.length ? make("p", { class: "note agree" }, `${titles.join(" and ")}: ${whose} happen to agree; that is no proof of no error.`) : null;
  };

  function whyMissing(table, row, column) {
    if (table.status[row] === "no plots") return "missing: no plots";
    if (column === "sampling_error_pct") return table.status[row] === "one plot" ? "missing: one plot" : "missing: no basal area";
    return "missing: no stems";
  }

  function label(field) {
    return make("th", { scope: "row" }, field.title, field.unit ? make("span", { class: "unit" }, ` ${field.unit}`) : null);
  }

  function missing(why, span) {
    return make("td", { class: "missing", colspan: span }, why);
  }

  /* A row with value, ± half the interval, and the limits. */
  plotmap.estimateRow = function (table, field, column, row, noError) {
    const value = table[column][row];
    const [half, low, high] = ["half", "low", "high"].map((ending) => table[`${column}_${ending}`][row]);
    if (value === null) return make("tr", {}, label(field), missing("missing: no plots", 3));
    const shown = (number) => plotmap.number(number, field);
    const error = plotmap.agree(table, column, row)
      ? [missing("plots agree: see below", 2)]
      : table.status[row] === COUNTED
      ? [make("td", { class: "num limits", colspan: 2 }, "no sampling error")]
      : half === null || low === null || high === null
      ? [missing(noError, 2)]
      : [make("td", { class: "num" }, `±\u00a0${shown(half)}`), make("td", { class: "num limits" }, `${shown(low)} – ${shown(high)}`)];
    return make("tr", { "data-column": column }, label(field), make("td", { class: "num value" }, shown(value)), ...error);
  };

  plotmap.limitsHead = (survey) =>
    make(
      "thead",
      {},
      make(
        "tr",
        {},
        make("td", {}),
        make("th", { scope: "col", class: "num" }, "estimate"),
        make("th", { scope: "col", class: "num" }, "±"),
        make("th", { scope: "col", class: "num" }, `${plotmap.percent(survey.survey.confidence_pct)} limits`),
      ),
    );

  function figures(survey, row) {
    const table = survey.compartments;
    const fields = survey.fields.compartments;
    const noError = table.status[row] === "one plot" ? "no error: one plot" : "no error";
    const single = SINGLE.map((column) => {
      const value = table[column][row];
      if (column === "sampling_error_pct" && plotmap.agree(table, "basal_area_m2_per_ha", row)) return make("tr", { "data-column": column }, label(fields[column]), missing("plots agree: see below", 3));
      const cell =
        value === null
          ? missing(whyMissing(table, row, column), 3)
          : make("td", { class: "num value" }, plotmap.number(value, fields[column]));
      return make("tr", { "data-column": column }, label(fields[column]), cell, value === null ? null : make("td", { colspan: 2 }));
    });
    return make(
      "table",
      { class: "figures" },
      plotmap.limitsHead(survey),
      make("tbody", {}, ...ESTIMATES.map((column) => plotmap.estimateRow(table, fields[column], column, row, noError)), ...single),
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
    const none = survey.compartments.status[row] === COUNTED ? "No sampling error: every stem was counted." : "No error can be given.";
    return make(
      "section",
      {},
      make("h3", {}, "Sizes"),
      plotmap.chart(entries, survey.survey, plotmap.fullName(survey, row)),
      make("p", { class: "note" }, bars ? `Lines: ${plotmap.percent(survey.survey.confidence_pct)} limits.` : none),
    );
  }

  function speciesMix(survey, row) {
    const table = survey.species;
    const rows = (survey.speciesRows.get(row) || []).filter((entry) => table.basal_area_m2_per_ha[entry] > 0);
    const sum = rows.reduce((total, entry) => total + table.basal_area_m2_per_ha[entry], 0);
    if (!sum) return null;
    rows.sort((one, other) => table.basal_area_m2_per_ha[other] - table.basal_area_m2_per_ha[one]);
    const shares = rows.slice(0, MOST_SPECIES).map((entry) => [table.words[table.species[entry]], table.basal_area_m2_per_ha[entry] / sum]);
    const rest = rows.slice(MOST_SPECIES).reduce((total, entry) => total + table.basal_area_m2_per_ha[entry], 0) / sum;
    if (rest > 0) shares.push([`${rows.length - MOST_SPECIES} more species`, rest]);
    const items = shares.map(([name, share]) => {
      const bar = make("i", { class: "share" });
      bar.style.width = `${Math.max(100 * share, 0.5)}%`;
      const text = share < 0.005 ? "<\u00a01\u00a0%" : plotmap.percent(Math.round(100 * share));
      return make("li", {}, make("span", { class: "species" }, name), make("span", { class: "share-room", "aria-hidden": "true" }, bar), make("span", { class: "num" }, text));
    });
    return make("section", {}, make("h3", {}, "Species, share of basal area"), make("ul", { class: "mix" }, ...items));
  }

  /* A heading; the number of a compartment as it stands on the map. */
  function title(parts, under) {
    return make("header", {}, make("h2", { tabindex: "-1" }, ...parts), under ? make("p", { class: "under" }, ...under) : null);
  }

  function numbered(survey, row) {
    const number = survey.compartments.compartment[row];
    const name = plotmap.fullName(survey, row).slice(number.length);
    return [make("span", { class: "tag" }, number), name];
  }

  plotmap.compartmentSheet = function (survey, row) {
    const table = survey.compartments;
    const fields = survey.fields.compartments;
    const known = table.status[row] !== "no plots";
    const area =
      table.area_ha[row] === null ? "missing" : `${plotmap.withUnit(table.area_ha[row], fields.area_ha)} (${table.area_source[row]})`;
    const counted = known && table.n_trees[row] !== null ? `, ${plotmap.number(table.n_trees[row], fields.n_trees)} stems counted` : "";
    const stratum = plotmap.hasStrata(survey) && table.stratum[row] !== null ? [`Stratum ${table.stratum[row]}`] : null;
    return make(
      "article",
      { class: "sheet" },
      title(numbered(survey, row), stratum),
      make("p", { class: known && !survey.hatches[row] ? "status" : "status doubtful" }, plotmap.statusWords(survey, row)),
      make("p", { class: "base" }, `Area ${area}; ${plotmap.count(table.n_plots[row] || 0, "plot", "plots")}${counted}`),
      known
        ? figures(survey, row)
        : make("p", { class: "missing" }, "Stems, basal area, diameters and sampling error are missing: no plot was measured here. They are not zero."),
      known && table.interval[row] !== "none" ? make("p", { class: "note kind" }, `Kind of the limits: ${table.interval[row]}.`) : null,
      known ? plotmap.agreeNote(table, fields, row, `all ${table.n_plots[row]} plots`) : null,
      known ? sizeClasses(survey, row) : null,
      known ? speciesMix(survey, row) : null,
    );
  };

  /* Lines of a position, each with what can be copied. */
  function position(survey, row, place) {
    const copied = (name, text) => {
      const value = make("span", { class: "copied", tabindex: "0", title: "Click, then copy" }, text);
      value.addEventListener("focus", () => getSelection().selectAllChildren(value));
      return make("div", {}, make("dt", {}, name), make("dd", {}, value));
    };
    const grid = survey.plots.position;
    const lines = [copied("Latitude, longitude in degrees (WGS 84)", `${place.lat.toFixed(6)}, ${place.lng.toFixed(6)}`)];
    if (grid) {
      const at = (steps) => (steps[row] / grid.per_unit).toFixed(1);
      lines.unshift(copied(`${grid.x_name}, ${grid.y_name.toLowerCase()} in ${grid.unit} (${grid.crs})`, `${at(grid.eastings)}, ${at(grid.northings)}`));
    }
    return make("section", {}, make("h3", {}, "Position"), make("dl", { class: "position-lines" }, ...lines));
  }

  function home(survey, row, goTo) {
    const number = survey.plots.compartment[row];
    if (number < 0) return ["Counts for no compartment"];
    const button = make("button", { type: "button", class: "link" }, plotmap.fullName(survey, number));
    button.addEventListener("click", () => goTo(number, button));
    return ["In compartment ", button];
  }

  plotmap.plotSheet = function (survey, row, place, goTo) {
    const plots = survey.plots;
    const fields = survey.fields.plots;
    const aside = plotmap.word(plots.set_aside, row);
    const line = (name, text) => make("tr", {}, make("th", { scope: "row" }, name), make("td", { class: "num" }, text));
    const numbers = ["area_m2", "share_inside", "slope_pct", "n_trees", "stems_per_ha", "basal_area_m2_per_ha", "dg_cm"]
      .filter((column) => plots[column][row] !== null)
      .map((column) => make("tr", { "data-column": column }, label(fields[column]), make("td", { class: "num value" }, plotmap.number(plots[column][row], fields[column]))));
    const words = ["date", "design"].map((column) => [fields[column].title, plotmap.word(plots[column], row)]).filter(([, text]) => text !== null);
    return make(
      "article",
      { class: "sheet" },
      title([`Plot ${plots.plot[row]}`], home(survey, row, goTo)),
      make("p", { class: aside === null ? "status" : "status doubtful" }, plotmap.PLOT_STYLES[plotmap.plotKind(plots, row)].label, aside === null ? "" : `: not in the estimates (${aside})`),
      make("table", { class: "figures" }, make("tbody", {}, ...words.map(([name, text]) => line(name, text)), ...numbers)),
      position(survey, row, place),
    );
  };
})(window.plotmap);
