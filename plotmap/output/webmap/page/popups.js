"use strict";
/* What a pop-up says about a compartment or a plot; made when it is opened. */
(function (plotmap) {
  const make = plotmap.make;
  const ESTIMATES = ["basal_area_m2_per_ha", "stems_per_ha", "basal_area_m2_total", "stems_total"];
  const SINGLE = ["dg_cm", "mean_dbh_cm", "sampling_error_pct"];
  const MOST_SPECIES = 6;

  /* The status of a compartment in words. */
  plotmap.statusWords = function (survey, row) {
    const table = survey.compartments;
    const status = table.status[row];
    if (status === "no plots") return "No plots: nothing is known here.";
    if (status === "one plot" && survey.hatches[row] === 1) return "One plot: no error can be given.";
    if (status === "one plot") return "One plot: its error is borrowed from other plots.";
    if (status !== "estimated") return status;
    const from = `Estimated from ${plotmap.count(table.n_plots[row], "plot", "plots")}.`;
    return survey.hatches[row] === 2 ? `${from} Sampling error above ${survey.survey.large_error_pct}\u00a0%: a rough idea only.` : from;
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
    const error =
      half === null || low === null || high === null
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
        value: at("stems_per_ha") || 0,
        low: at("stems_per_ha_low"),
        high: at("stems_per_ha_high"),
      });
    }
    const bars = entries.some((entry) => entry.low !== null);
    return make(
      "section",
      {},
      make("h3", {}, "Sizes"),
      plotmap.chart(entries, survey.survey.class_measure, survey.compartments.name[row]),
      make("p", { class: "note" }, bars ? `Lines: ${plotmap.percent(survey.survey.confidence_pct)} limits.` : "No error can be given."),
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

  function title(text, under) {
    return make("header", {}, make("h2", { tabindex: "-1" }, text), under ? make("p", { class: "under" }, under) : null);
  }

  plotmap.compartmentPopup = function (survey, row) {
    const table = survey.compartments;
    const fields = survey.fields.compartments;
    const known = table.status[row] !== "no plots";
    const name = table.name[row] || table.compartment[row];
    const under = [
      name === table.compartment[row] ? null : `Compartment ${table.compartment[row]}`,
      table.stratum[row] ? `stratum ${table.stratum[row]}` : null,
    ].filter(Boolean);
    const area =
      table.area_ha[row] === null ? "missing" : `${plotmap.withUnit(table.area_ha[row], fields.area_ha)} (${table.area_source[row]})`;
    const counted = known && table.n_trees[row] !== null ? `, ${plotmap.number(table.n_trees[row], fields.n_trees)} stems counted` : "";
    return make(
      "article",
      { class: "sheet" },
      title(name, under.join(" · ")),
      make("p", { class: known && !survey.hatches[row] ? "status" : "status doubtful" }, plotmap.statusWords(survey, row)),
      make("p", { class: "base" }, `Area ${area}; ${plotmap.count(table.n_plots[row] || 0, "plot", "plots")}${counted}`),
      known
        ? figures(survey, row)
        : make("p", { class: "missing" }, "Stems, basal area, diameters and sampling error are missing: no plot was measured here. They are not zero."),
      known ? sizeClasses(survey, row) : null,
      known ? speciesMix(survey, row) : null,
    );
  };

  plotmap.plotPopup = function (survey, row) {
    const plots = survey.plots;
    const fields = survey.fields.plots;
    const home = plots.compartment[row];
    const aside = plotmap.word(plots.set_aside, row);
    const line = (name, text) => make("tr", {}, make("th", { scope: "row" }, name), make("td", { class: "num" }, text));
    const numbers = ["area_m2", "share_inside", "slope_pct", "n_trees", "stems_per_ha", "basal_area_m2_per_ha", "dg_cm"]
      .filter((column) => plots[column][row] !== null)
      .map((column) => make("tr", { "data-column": column }, label(fields[column]), make("td", { class: "num value" }, plotmap.number(plots[column][row], fields[column]))));
    const date = plotmap.word(plots.date, row);
    return make(
      "article",
      { class: "sheet small" },
      title(`Plot ${plots.plot[row]}`, home < 0 ? "counts for no compartment" : `in ${survey.compartments.name[home] || survey.compartments.compartment[home]}`),
      make("p", { class: aside === null ? "status" : "status doubtful" }, plotmap.PLOT_STYLES[plotmap.plotKind(plots, row)].label, aside === null ? "" : `: not in the estimates (${aside})`),
      make("table", { class: "figures" }, make("tbody", {}, date === null ? null : line("Date", date), ...numbers)),
    );
  };
})(window.plotmap);
