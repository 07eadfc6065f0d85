"use strict";
/* Scale bar, north, headline, and the survey total. */
(function (plotmap) {
  const make = plotmap.make;
  const say = plotmap.say;
  const ESTIMATES = ["basal_area_m2_per_ha", "stems_per_ha", "basal_area_m2_total", "stems_total"];

  plotmap.control = function (position, element) {
    const made = L.control({ position: position });
    made.onAdd = () => element;
    return made;
  };

  /* A square button on the map with a picture drawn by a path. */
  plotmap.mapButton = function (name, title, path) {
    const button = make("button", { type: "button", class: `map-button ${name}`, "aria-label": title, title: title });
    button.append(plotmap.draw("svg", { viewBox: "0 0 20 20", "aria-hidden": "true" }, plotmap.draw("path", { d: path })));
    L.DomEvent.disableClickPropagation(button);
    return button;
  };

  function north() {
    const arrow = plotmap.draw("path", { d: "M10 1 L17 22 L10 17.5 L3 22 Z" });
    const title = say("north");
    return make("div", { class: "north", role: "img", "aria-label": title, title: title }, plotmap.draw("svg", { viewBox: "0 0 20 23", "aria-hidden": "true" }, arrow), say("letter_north"));
  }

  plotmap.addControls = function (map, fit) {
    const home = plotmap.mapButton("home", say("home"), "M3 8V3h5M12 3h5v5M17 12v5h-5M8 17H3v-5");
    home.addEventListener("click", fit);
    plotmap.control("topleft", make("div", { class: "leaflet-bar" }, home)).addTo(map);
    plotmap.control("topright", north()).addTo(map);
    L.control.scale({ imperial: false, maxWidth: 140 }).addTo(map);
    plotmap.control("bottomright", make("div", { class: "credit", id: "credit" }, "plotmap · Leaflet (BSD-2-Clause)")).addTo(map);
    for (const [name, title] of [["in", "zoom_in"], ["out", "zoom_out"]]) {
      const button = map.getContainer().querySelector(`.leaflet-control-zoom-${name}`);
      button.setAttribute("aria-label", say(title));
      button.setAttribute("title", say(title));
    }
  };

  function covered(total, fields) {
    const area = (column) => plotmap.withUnit(total[column][0] || 0, fields[column]);
    const values = {
      area: area("area_ha"),
      compartments: plotmap.count(total.n_compartments[0] || 0, "compartments"),
      without: total.n_without_plots[0] ? plotmap.count(total.n_without_plots[0], "by_stratum") : "",
      source: total.area_source[0] ? ` ${say("area_source", { source: plotmap.tableWord(total.area_source[0]) })}` : "",
    };
    const left = total.n_left_out[0] ? ` ${say("left_out", { area: area("area_left_out_ha"), compartments: plotmap.count(total.n_left_out[0], "compartments") })}` : "";
    return say("covers", values) + left;
  }

  /* The whole survey in one line, under the title: each estimate with its limits. */
  plotmap.showHeadline = function (survey) {
    const { total } = survey;
    const fields = survey.fields.total;
    const known = (column) => total[column].length && total[column][0] !== null;
    const part = (column, unit) => {
      const limits = total[`${column}_above`][0] || total[`${column}_below`][0] ? plotmap.limits(total, column, 0, fields[column]) : null;
      const value = make("strong", {}, `${plotmap.number(total[column][0], fields[column])}\u00a0${unit}`);
      return limits === null ? value : make("span", {}, value, ` (${limits})`);
    };
    const line = plotmap.byId("headline");
    if (!known("basal_area_m2_per_ha") || !known("stems_per_ha")) line.replaceChildren(say("nothing_known"));
    else
      line.replaceChildren(
        ...plotmap.sayWith("headline", {
          basal_area: part("basal_area_m2_per_ha", "m²/ha"),
          stems: part("stems_per_ha", say("stems_unit")),
          area: plotmap.withUnit(total.area_ha[0], fields.area_ha),
        }),
      );
  };

  plotmap.showTotal = function (survey) {
    const { total } = survey;
    const fields = survey.fields.total;
    const status = total.status[0];
    const lines = [make("p", {}, total.status.length ? covered(total, fields) : say("no_total"))];
    if (status === "no plots" || !total.status.length) lines.push(make("p", { class: "missing" }, say("nothing_known")));
    else {
      const noError = say(status === "partly" ? "no_error_see_below" : "no_error");
      const rows = ESTIMATES.map((column) => plotmap.estimateRow(total, fields[column], column, 0, noError, false));
      lines.push(make("table", { class: "figures" }, plotmap.limitsHead(survey, false), make("tbody", {}, ...rows)), plotmap.agreeNote(total, fields, 0, say("all_plots_of_all")));
    }
    if (status === "partly") lines.push(make("p", { class: "note" }, plotmap.count(total.n_one_plot[0], survey.survey.sample_of === "compartment" ? "one_plot_only" : "one_plot_only_strata")));
    plotmap.byId("total").append(...lines.filter(Boolean));
  };

  function classRule({ class_measure: measure, class_edge: edge, class_width_cm: width }) {
    const values = { measure: plotmap.sayOr("measure", measure), edge: plotmap.sayOr("edge", edge), width: width };
    return say(width === null ? "rule_edges" : "rule_width", values);
  }

  plotmap.showAbout = function (survey, plots) {
    const { confidence_pct: confidence, large_error_pct: large } = survey.survey;
    const known = survey.compartments.compartment.length;
    const days = plotmap.measuredOn(survey.dates, survey.dates.survey_first, survey.dates.survey_last);
    const numbers = plots || survey.total.n_plots[0] || 0; /* plots that are not shown are counted all the same */
    const counts = say("counts", { compartments: plotmap.count(known, "compartments"), plots: plotmap.count(numbers, "sample_plots") });
    plotmap.byId("subtitle").replaceChildren(counts, ...(days ? [make("span", { class: "days" }, days)] : []));
    plotmap.byId("about-confidence").textContent = say("about_confidence", { confidence: plotmap.percent(confidence), large: plotmap.percent(large) });
    const metres = survey.outlines.moved_m;
    plotmap.byId("about-outlines").textContent = metres ? say("about_outlines_moved", { metres: metres }) : say("about_outlines_whole");
    const { grid } = survey;
    plotmap.byId("about-grid").textContent = grid ? say("about_grid", { crs: grid.crs, error: grid.error_m }) : "";
    plotmap.byId("legend-note").textContent = say("legend_note", { confidence: plotmap.percent(confidence), rule: classRule(survey.survey) });
  };

  /* On a narrow screen the panel is folded away until it is asked for. */
  plotmap.setUpPanel = function (map) {
    const toggle = plotmap.byId("panel-toggle");
    const container = map.getContainer();
    container.addEventListener("pointerdown", () => container.classList.add("by-pointer"), true);
    document.addEventListener("keydown", () => container.classList.remove("by-pointer"), true);
    toggle.addEventListener("click", () => {
      const open = plotmap.byId("app").classList.toggle("panel-open");
      toggle.setAttribute("aria-expanded", String(open));
      toggle.textContent = say(open ? "panel_close" : "panel_open");
    });
    const printing = () => document.documentElement.classList.contains("printing");
    new ResizeObserver(() => printing() || map.invalidateSize({ animate: false })).observe(container);
  };
})(window.plotmap);
