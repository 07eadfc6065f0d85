"use strict";
/* What colours, hatching and marks mean; one theme at a time. */
(function (plotmap) {
  const NO_VALUE = -1;
  const UNKNOWN = -2;
  const OUTLINE = "#3c4640";
  const HATCHES = [null, "rising", "falling"];

  plotmap.UNKNOWN_STYLE = { fillColor: "#e7e7e2", hatch: "crossed", color: "#5d625d", dashArray: "5 4", weight: 1.5 };

  plotmap.PLOT_STYLES = {
    measured: { label: "plot_measured", shape: "circle", fillColor: "#1b1b1b", color: "#1b1b1b" },
    empty: { label: "plot_empty", shape: "circle", fillColor: "#ffffff", color: "#1b1b1b" },
    aside: { label: "plot_set_aside", shape: "triangle", fillColor: "#ffffff", color: "#9a3412" },
    unvisited: { label: "plot_unvisited", shape: "square", fillColor: "#ffffff", color: "#5b3a8c" },
    lost: { label: "plot_lost", shape: "cross", fillColor: "none", color: "#9a1b4a" },
  };

  /* Kind of mark of a plot: its state, or set aside in spite of having been measured. */
  plotmap.plotKind = function (plots, row) {
    const state = plotmap.word(plots.state, row);
    if (state === "unvisited" || state === "lost") return state;
    if (plotmap.word(plots.set_aside, row) !== null) return "aside";
    return state === "empty" ? "empty" : "measured";
  };

  /* Style of a compartment in the theme shown. */
  plotmap.compartmentStyle = function (survey, theme, row) {
    const number = theme.classes[row];
    if (number === UNKNOWN) return plotmap.UNKNOWN_STYLE;
    return {
      fillColor: number === NO_VALUE ? "#ffffff" : theme.colours[number],
      hatch: HATCHES[survey.hatches[row]],
      color: OUTLINE,
      dashArray: null,
      weight: 1,
    };
  };

  function key(sample, label, count) {
    return plotmap.make(
      "li",
      {},
      sample,
      plotmap.make("span", { class: "key-label" }, label),
      plotmap.make("span", { class: "key-count" }, plotmap.number(count, { decimals: 0, unit: "" })),
    );
  }

  function entries(survey, theme) {
    const times = (list, value) => list.reduce((sum, entry) => sum + (entry === value), 0);
    const unvalued = theme.classes.filter((number, row) => number === NO_VALUE && survey.hatches[row] !== 1).length;
    const plain = { hatch: null, color: OUTLINE, dashArray: null };
    const found = theme.labels.map((label, number) => ({
      style: { ...plain, fillColor: theme.colours[number] },
      label: label,
      count: theme.counts[number],
    }));
    const rest = [
      [{ ...plain, fillColor: "#ffffff" }, plotmap.missingLabel(theme), unvalued],
      [{ ...plain, fillColor: "#ffffff", hatch: HATCHES[1] }, plotmap.say("legend_one_plot"), times(survey.hatches, 1)],
      [
        { ...plain, fillColor: "#ffffff", hatch: HATCHES[2] },
        plotmap.say("legend_large_error", { large: plotmap.percent(survey.survey.large_error_pct) }),
        times(survey.hatches, 2),
      ],
      [plotmap.UNKNOWN_STYLE, plotmap.say("legend_no_plots"), times(theme.classes, UNKNOWN)],
    ];
    return { classes: found, rest: rest.filter(([, , count]) => count).map(([style, label, count]) => ({ style, label, count })) };
  }

  plotmap.showLegend = function (survey, theme) {
    const shown = entries(survey, theme);
    plotmap.byId("legend-title").replaceChildren(
      plotmap.make("span", {}, plotmap.themeHeading(survey, theme)),
      plotmap.make("span", { class: "count-head" }, plotmap.say("legend_count")),
    );
    plotmap
      .byId("legend")
      .replaceChildren(
        ...[...shown.classes, ...shown.rest].map((entry) => key(plotmap.swatch(entry.style), entry.label, entry.count)),
      );
    const cells = theme.labels.map((label, number) => {
      const cell = plotmap.make("span", { class: "strip-cell" }, plotmap.make("i", {}), label);
      cell.firstChild.style.background = theme.colours[number];
      return cell;
    });
    plotmap
      .byId("strip")
      .replaceChildren(
        plotmap.make("span", { class: "strip-title" }, plotmap.themeHeading(survey, theme)),
        plotmap.make("span", { class: "strip-cells" }, ...cells),
        plotmap.make("span", { class: "strip-rest" }, ...shown.rest.map((entry) => plotmap.make("span", {}, plotmap.swatch(entry.style), entry.label))),
      );
  };

  plotmap.showPlotsLegend = function (plots, kinds) {
    const counts = {};
    for (const kind of kinds) counts[kind] = (counts[kind] || 0) + 1;
    const shown = Object.entries(plotmap.PLOT_STYLES).filter(([kind]) => counts[kind]);
    plotmap
      .byId("plots-legend")
      .replaceChildren(...shown.map(([kind, style]) => key(plotmap.markSample(style), plotmap.say(style.label), counts[kind])));
    plotmap.byId("plots-label").textContent = plotmap.say("plots_label", { n: plotmap.number(kinds.length, { decimals: 0, unit: "" }) });
    plotmap.byId("plots-note").textContent = plots.without_position
      ? plotmap.count(plots.without_position, "plots_without_position")
      : "";
  };
})(window.plotmap);
