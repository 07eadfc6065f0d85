"use strict";
/* Switches, scale bar, north, position under the pointer, and the survey total. */
(function (plotmap) {
  const make = plotmap.make;
  const ESTIMATES = ["basal_area_m2_per_ha", "stems_per_ha", "basal_area_m2_total", "stems_total"];

  plotmap.setUpThemes = function (survey, choose) {
    const choices = survey.themes.map((theme, number) => {
      const field = survey.fields.compartments[theme.column];
      const input = make("input", { type: "radio", name: "theme", value: theme.column });
      input.checked = number === 0;
      input.addEventListener("change", () => choose(theme));
      return make("label", { class: "check" }, input, make("span", {}, field.title), make("span", { class: "unit" }, ` ${field.unit}`));
    });
    plotmap.byId("themes").append(...choices);
  };

  function control(position, element) {
    const made = L.control({ position: position });
    made.onAdd = () => element;
    return made;
  }

  function north() {
    const arrow = plotmap.draw("path", { d: "M10 1 L17 22 L10 17.5 L3 22 Z" });
    return make("div", { class: "north", role: "img", "aria-label": "North is up", title: "North is up" }, plotmap.draw("svg", { viewBox: "0 0 20 23", "aria-hidden": "true" }, arrow), "N");
  }

  function home(map, fit) {
    const button = make("button", { type: "button", class: "home", "aria-label": "Show the whole survey", title: "Show the whole survey" });
    button.append(plotmap.draw("svg", { viewBox: "0 0 20 20", "aria-hidden": "true" }, plotmap.draw("path", { d: "M3 8V3h5M12 3h5v5M17 12v5h-5M8 17H3v-5" })));
    button.addEventListener("click", fit);
    L.DomEvent.disableClickPropagation(button);
    return make("div", { class: "leaflet-bar" }, button);
  }

  function pointer(map) {
    const element = make("div", { class: "position" });
    const side = (value, plus, minus) => `${Math.abs(value).toFixed(5)}°\u00a0${value < 0 ? minus : plus}`;
    map.on("mousemove", ({ latlng }) => {
      element.textContent = `${side(latlng.lat, "N", "S")}, ${side(latlng.lng, "E", "W")}`;
    });
    map.on("mouseout", () => element.replaceChildren());
    return element;
  }

  plotmap.addControls = function (map, fit) {
    control("topleft", home(map, fit)).addTo(map);
    control("topright", north()).addTo(map);
    L.control.scale({ imperial: false, maxWidth: 140 }).addTo(map);
    control("bottomleft", pointer(map)).addTo(map);
    control("bottomright", make("div", { class: "credit" }, "plotmap · Leaflet (BSD-2-Clause)")).addTo(map);
  };

  function covered(total, fields) {
    const area = (column) => plotmap.withUnit(total[column][0] || 0, fields[column]);
    const source = total.area_source[0] ? ` (${total.area_source[0]} areas)` : "";
    const without = total.n_without_plots[0] ? `, ${total.n_without_plots[0]} of them by the other plots of their strata` : "";
    const first = `Covers ${area("area_ha")} in ${plotmap.count(total.n_compartments[0] || 0, "compartment", "compartments")}${without}${source}.`;
    return total.n_left_out[0]
      ? `${first} Left out: ${area("area_left_out_ha")} in ${plotmap.count(total.n_left_out[0], "compartment", "compartments")} without plots.`
      : first;
  }

  /* The whole survey in one line, under the title. */
  plotmap.showHeadline = function (survey) {
    const { total } = survey;
    const fields = survey.fields.total;
    const known = (column) => total[column].length && total[column][0] !== null;
    const part = (column, unit) => {
      const half = total[`${column}_half`][0];
      const error = !half ? "" : `\u00a0±\u00a0${plotmap.number(half, fields[column])}`;
      return make("strong", {}, `${plotmap.number(total[column][0], fields[column])}${error}\u00a0${unit}`);
    };
    const line = plotmap.byId("headline");
    if (!known("basal_area_m2_per_ha") || !known("stems_per_ha")) line.replaceChildren("No plots: nothing is known of the whole.");
    else line.replaceChildren("Basal area ", part("basal_area_m2_per_ha", "m²/ha"), " · ", part("stems_per_ha", "stems/ha"), ` on ${plotmap.withUnit(total.area_ha[0], fields.area_ha)}`);
  };

  plotmap.showTotal = function (survey) {
    const { total } = survey;
    const fields = survey.fields.total;
    const status = total.status[0];
    const lines = [make("p", {}, total.status.length ? covered(total, fields) : "There is no survey total.")];
    if (status === "no plots" || !total.status.length) lines.push(make("p", { class: "missing" }, "No plots: nothing is known of the whole."));
    else {
      const noError = status === "partly" ? "no error: see below" : "no error";
      const rows = ESTIMATES.map((column) => plotmap.estimateRow(total, fields[column], column, 0, noError));
      lines.push(make("table", { class: "figures" }, plotmap.limitsHead(survey), make("tbody", {}, ...rows)), plotmap.agreeNote(total, fields, 0, "the plots of every compartment"));
    }
    if (status === "partly")
      lines.push(make("p", { class: "note" }, `The total has no error: ${survey.survey.sample_of === "compartment" ? plotmap.count(total.n_one_plot[0], "compartment has", "compartments have") : plotmap.count(total.n_one_plot[0], "stratum has", "strata have")} one plot only.`));
    plotmap.byId("total").append(...lines.filter(Boolean));
  };

  plotmap.showAbout = function (survey, plots) {
    const { confidence_pct: confidence, class_rule: rule } = survey.survey;
    const known = survey.compartments.compartment.length;
    plotmap.byId("subtitle").textContent = `${plotmap.count(known, "compartment", "compartments")}, ${plotmap.count(plots, "sample plot", "sample plots")}`;
    plotmap.byId("about-confidence").textContent = `± and limits are confidence limits at ${plotmap.percent(confidence)}; ± is the upper limit less the estimate; the lower limit is nearer, since figures are never negative and often skewed. Sampling error is half of Student’s interval of basal area in per cent of it. Hatching marks compartments with one plot, which have no error, and those with a sampling error of ${survey.survey.large_error_pct}\u00a0% or more.`;
    plotmap.byId("legend-note").textContent = `Confidence ${plotmap.percent(confidence)}. Sizes: ${rule}.`;
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
      toggle.textContent = open ? "Back to the map" : "Legend and figures";
    });
    const printing = () => document.documentElement.classList.contains("printing");
    new ResizeObserver(() => printing() || map.invalidateSize({ animate: false })).observe(container);
  };
})(window.plotmap);
