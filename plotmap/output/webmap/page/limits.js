"use strict";
/* How far an estimate may be off, in words and cells: its limits, and the way from the estimate to each of them. */
(function (plotmap) {
  const make = plotmap.make;
  const COUNTED = "full count";

  /* Whether an estimate has no width because its plots happen to agree. */
  plotmap.agree = (table, column, row) => table.status[row] === "estimated" && !table.hasCounts && table[`${column}_above`][row] === 0 && table[`${column}_below`][row] === 0;

  plotmap.agreeNote = function (table, fields, row, whose) {
    const titles = ["basal_area_m2_per_ha", "stems_per_ha"].filter((column) => plotmap.agree(table, column, row)).map((column) => fields[column].title);
    return titles.length ? make("p", { class: "note agree" }, plotmap.say("agree_note", { titles: titles.join(` ${plotmap.say("and")} `), whose: whose })) : null;
  };

  /* ± 1.3 where both limits are as far from the estimate, else the way to the lower and to the upper: −1.1 +1.6. */
  plotmap.plusMinus = function (table, column, row, field) {
    const [below, above] = ["below", "above"].map((side) => table[`${column}_${side}`][row]);
    if (below === null || above === null) return null;
    const [less, more] = [below, above].map((side) => plotmap.number(side, field));
    return less === more ? `±\u00a0${more}` : `−${less}\u00a0+${more}`;
  };

  /* 21.6 – 24.2, or null where there are no limits. */
  plotmap.limits = function (table, column, row, field) {
    const [low, high] = ["low", "high"].map((end) => table[`${column}_${end}`][row]);
    return low === null || high === null ? null : `${plotmap.number(low, field)}\u00a0–\u00a0${plotmap.number(high, field)}`;
  };

  plotmap.missingCell = (why, span) => make("td", { class: "missing", colspan: span }, why);
  plotmap.rowLabel = (field) => make("th", { scope: "row" }, field.title, field.unit ? make("span", { class: "unit" }, ` ${field.unit}`) : null);

  /* A row with value, the ways to its limits where there is room for them, and the limits. */
  plotmap.estimateRow = function (table, field, column, row, noError, ways) {
    const value = table[column][row];
    const span = ways ? 2 : 1;
    if (value === null) return make("tr", { "data-column": column }, plotmap.rowLabel(field), plotmap.missingCell(plotmap.say("missing_no_plots"), span + 1));
    const limits = plotmap.limits(table, column, row, field);
    const way = ways ? [make("td", { class: "num" }, plotmap.plusMinus(table, column, row, field))] : [];
    let error = [...way, make("td", { class: "num limits" }, limits)];
    if (plotmap.agree(table, column, row)) error = [plotmap.missingCell(plotmap.say("plots_agree_below"), span)];
    else if (table.status[row] === COUNTED) error = [make("td", { class: "num limits", colspan: span }, plotmap.say("no_sampling_error"))];
    else if (limits === null) error = [plotmap.missingCell(noError, span)];
    return make("tr", { "data-column": column }, plotmap.rowLabel(field), make("td", { class: "num value" }, plotmap.number(value, field)), ...error);
  };

  plotmap.limitsHead = function (survey, ways) {
    const heads = [plotmap.say("estimate"), ...(ways ? ["±"] : []), plotmap.say("limits_head", { confidence: plotmap.percent(survey.survey.confidence_pct) })];
    return make("thead", {}, make("tr", {}, make("td", {}), ...heads.map((head) => make("th", { scope: "col", class: "num" }, head))));
  };
})(window.plotmap);
