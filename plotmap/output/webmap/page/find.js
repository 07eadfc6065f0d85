"use strict";
/* Find a compartment by its number or name. */
(function (plotmap) {
  const folded = (text) => text.trim().toLocaleLowerCase("en");

  /* Rows whose number or name is the text; else those that begin with it; else those that hold it. */
  plotmap.matches = function (table, text) {
    const wanted = folded(text);
    if (!wanted) return [];
    const texts = table.compartment.map((number, row) => [number, table.name[row] || ""].map(folded));
    const tests = [(entry) => entry === wanted, (entry) => entry.startsWith(wanted), (entry) => entry.includes(wanted)];
    for (const test of tests) {
      const rows = [...texts.keys()].filter((row) => texts[row].some(test));
      if (rows.length) return rows;
    }
    return [];
  };

  plotmap.setUpFind = function (survey, open) {
    const table = survey.compartments;
    const input = plotmap.byId("find-input");
    const note = plotmap.byId("find-note");
    const options = table.compartment.map((number, row) => {
      const name = table.name[row];
      return plotmap.make("option", name && name !== number ? { value: number, label: name } : { value: number });
    });
    plotmap.byId("find-list").append(...options);
    const find = () => {
      const rows = plotmap.matches(table, input.value);
      if (!rows.length) {
        note.textContent = input.value.trim() ? "No compartment has this number or name." : "";
        return;
      }
      note.textContent = rows.length > 1 ? `${rows.length} compartments fit; this is the first.` : "";
      open(rows[0], input);
    };
    plotmap.byId("find").addEventListener("submit", (event) => {
      event.preventDefault();
      find();
    });
    input.addEventListener("input", (event) => {
      note.textContent = "";
      if (event.inputType === "insertReplacementText") find();
    });
  };
})(window.plotmap);
