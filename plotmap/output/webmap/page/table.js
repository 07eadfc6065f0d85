"use strict";
/* All compartments as a table, for reading aloud, by keyboard and for comparing; made when it is opened. */
(function (plotmap) {
  const make = plotmap.make;
  const WITH_ERROR = ["basal_area_m2_per_ha", "stems_per_ha"];
  const COLUMNS = ["compartment", ...WITH_ERROR, "dg_cm", "sampling_error_pct", "area_ha", "n_plots", "status", "name", "stratum"];
  const PAGE = 500; /* rows shown at once */
  const inOrder = new Intl.Collator("en", { numeric: true });
  const TEXTS = ["compartment", "name", "stratum", "status"];

  /* Columns shown: key is what is shown and sorted by, column what it is of. */
  function shownColumns(survey) {
    const columns = COLUMNS.filter((column) => column !== "stratum" || plotmap.hasStrata(survey));
    return columns.flatMap((column) => [
      { key: column, column: column, isText: TEXTS.includes(column), isHalf: false },
      ...(WITH_ERROR.includes(column) ? [{ key: `${column}_above`, column: column, isText: false, isHalf: true }] : []),
    ]);
  }

  function words(survey, { key, column, isHalf }, row) {
    const value = survey.compartments[key][row];
    if (column === "status") return plotmap.shortStatus(survey, row);
    if (value === null) return "–";
    if (typeof value !== "number") return value;
    if (isHalf && survey.compartments.status[row] === "full count") return plotmap.say("counted");
    if (isHalf && plotmap.agree(survey.compartments, column, row)) return plotmap.say("plots_agree");
    const field = survey.fields.compartments[column];
    return isHalf ? plotmap.plusMinus(survey.compartments, column, row, field) : plotmap.number(value, field);
  }

  function line(survey, columns, row, open) {
    const number = survey.compartments.compartment[row];
    const button = open ? make("button", { type: "button", class: "link" }, number) : number;
    if (open) button.addEventListener("click", () => open(row, button));
    const cells = columns.slice(1).map((shown) => {
      const style = [shown.isText ? "" : "num", shown.isHalf ? "half" : ""].filter(Boolean).join(" ");
      return make("td", { class: style || null, "data-column": shown.key }, words(survey, shown, row));
    });
    return make("tr", {}, make("th", { scope: "row" }, button), ...cells);
  }

  /* Rows in the order of a column; missing ones last either way. */
  function order(values, rising) {
    const rows = [...values.keys()];
    const compare = (one, other) =>
      typeof one === "number" && typeof other === "number" ? one - other : inOrder.compare(String(one), String(other));
    return rows.sort((one, other) => {
      const [left, right] = [values[one], values[other]];
      if (left === null || right === null) return (left === null) - (right === null);
      return rising ? compare(left, right) : compare(right, left);
    });
  }

  function heading(survey, { column, isText, isHalf }, open) {
    const field = survey.fields.compartments[column];
    const unit = field.unit ? make("span", { class: "unit" }, ` ${field.unit}`) : null;
    const title = [isHalf ? "±" : field.title, unit];
    const said = isHalf ? { "aria-label": plotmap.say("table_error_of", { column: plotmap.heading(field) }) } : {};
    const button = () => make("button", { type: "button", title: plotmap.say("table_sort"), ...said }, ...title, make("span", { class: "arrow", "aria-hidden": "true" }));
    return make("th", { scope: "col", class: isText ? null : "num" }, ...(open ? [button()] : title));
  }

  /* Buttons that turn to other rows, for a table of more than are shown at once. */
  function pager(turn) {
    const button = (word, step) => {
      const made = make("button", { type: "button" }, plotmap.say(word));
      made.addEventListener("click", () => turn(step));
      return made;
    };
    const [before, next] = [button("table_before", -PAGE), button("table_next", PAGE)];
    const note = make("span", { role: "status" });
    const count = (number) => plotmap.number(number, { decimals: 0, unit: "" });
    return {
      element: make("div", { class: "pager" }, before, next, note),
      tell(first, shown, all) {
        before.disabled = first === 0;
        next.disabled = first + shown >= all;
        note.textContent = plotmap.say("table_rows", { first: count(first + 1), last: count(first + shown), all: count(all) });
      },
    };
  }

  /* open is called with the row of the compartment that was clicked; without it the table is one for paper, with
     all rows. */
  plotmap.overview = function (survey, open) {
    const columns = shownColumns(survey);
    const body = make("tbody", {});
    let rows = [...survey.compartments.compartment.keys()];
    let first = 0;
    const pages = open && rows.length > PAGE ? pager((step) => show(first + step)) : null;
    const show = (from) => {
      first = from;
      const shown = pages ? rows.slice(first, first + PAGE) : rows;
      body.replaceChildren(...shown.map((row) => line(survey, columns, row, open)));
      if (pages) pages.tell(first, shown.length, rows.length);
    };
    const heads = columns.map((shown) => heading(survey, shown, open));
    const sortable = open ? heads : [];
    sortable.forEach((head, number) =>
      head.firstChild.addEventListener("click", () => {
        const rising = head.getAttribute("aria-sort") !== "ascending";
        for (const other of heads) other.removeAttribute("aria-sort");
        head.setAttribute("aria-sort", rising ? "ascending" : "descending");
        rows = order(survey.compartments[columns[number].key], rising);
        show(0);
      }),
    );
    show(0);
    const table = make("table", { class: "overview" }, make("thead", {}, make("tr", {}, ...heads)), body);
    return pages ? make("div", {}, pages.element, table) : table;
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
