"use strict";
/* All compartments as a table, for reading aloud, by keyboard and for comparing; made when it is opened. */
(function (plotmap) {
  const make = plotmap.make;
  const COLUMNS = ["name", "stratum", "area_ha", "n_plots", "basal_area_m2_per_ha", "stems_per_ha", "dg_cm", "sampling_error_pct", "status"];
  const TEXTS = ["compartment", "name", "stratum", "status"];

  function cell(survey, column, row) {
    const table = survey.compartments;
    const value = table[column][row];
    const field = survey.fields.compartments[column];
    if (typeof value !== "number") return make("td", { class: TEXTS.includes(column) ? null : "num", "data-column": column }, value === null ? "–" : value);
    const half = (table[`${column}_half`] || [])[row];
    const error = half === undefined || half === null ? "" : ` ±\u00a0${plotmap.number(half, field)}`;
    return make("td", { class: "num", "data-column": column }, plotmap.number(value, field), make("span", { class: "half" }, error));
  }

  function line(survey, row, open) {
    const number = survey.compartments.compartment[row];
    const button = make("button", { type: "button", class: "link" }, number);
    button.addEventListener("click", () => open(row, button));
    return make("tr", {}, make("th", { scope: "row" }, button), ...COLUMNS.map((column) => cell(survey, column, row)));
  }

  /* Rows in the order of a column; missing ones last either way. */
  function order(values, rising) {
    const rows = [...values.keys()];
    const compare = (one, other) =>
      typeof one === "number" && typeof other === "number" ? one - other : String(one).localeCompare(String(other), "en", { numeric: true });
    return rows.sort((one, other) => {
      const [left, right] = [values[one], values[other]];
      if (left === null || right === null) return (left === null) - (right === null);
      return rising ? compare(left, right) : compare(right, left);
    });
  }

  plotmap.overview = function (survey, open) {
    const body = make("tbody", {});
    const fill = (rows) => body.replaceChildren(...rows.map((row) => line(survey, row, open)));
    const heads = ["compartment", ...COLUMNS].map((column) => {
      const field = survey.fields.compartments[column];
      const head = make("th", { scope: "col", class: TEXTS.includes(column) ? null : "num" });
      const button = make("button", { type: "button" }, field.title, make("span", { class: "unit" }, field.unit ? ` ${field.unit}` : ""));
      button.addEventListener("click", () => {
        const rising = head.getAttribute("aria-sort") !== "ascending";
        for (const other of heads) other.removeAttribute("aria-sort");
        head.setAttribute("aria-sort", rising ? "ascending" : "descending");
        fill(order(survey.compartments[column], rising));
      });
      head.append(button);
      return head;
    });
    fill([...survey.compartments.compartment.keys()]);
    return make("table", { class: "overview" }, make("thead", {}, make("tr", {}, ...heads)), body);
  };

  plotmap.setUpTable = function (survey, open) {
    const dialog = plotmap.byId("table-dialog");
    const room = plotmap.byId("table-body");
    const show = (row) => {
      dialog.close();
      open(row, plotmap.byId("table-open"));
    };
    plotmap.byId("table-open").addEventListener("click", () => {
      if (!room.firstChild) room.append(plotmap.overview(survey, show));
      dialog.showModal();
    });
    plotmap.byId("table-close").addEventListener("click", () => dialog.close());
  };
})(window.plotmap);
