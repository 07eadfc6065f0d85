"use strict";
/* Find a compartment by its number or name, or a plot by its number. Where several fit, they are listed to choose from. */
(function (plotmap) {
  const MOST = 8; /* choices listed at once */
  const make = plotmap.make;
  const folded = (text) => text.trim().replace(/\s+/g, " ").toLocaleLowerCase("en");
  const withoutZeros = (text) => text.replace(/(^|\D)0+(?=\d)/g, "$1");

  /* All that can be found: title, kind, row and the texts it is found by. */
  plotmap.findable = function (survey) {
    const { compartments, plots } = survey;
    const entry = (kind, row, title, texts) => ({ kind: kind, row: row, title: title, texts: texts.map(folded) });
    return [
      ...compartments.compartment.map((number, row) => {
        const title = plotmap.fullName(survey, row);
        return entry("compartment", row, title, [number, compartments.name[row] || number, title, plotmap.say("find_compartment", { name: number })]);
      }),
      ...plots.plot.map((number, row) => entry("plot", row, plotmap.say("plot", { name: number }), [number, plotmap.say("plot", { name: number })])),
    ];
  };

  /* How well a text fits: 0 the same, 1 the same but for leading zeros, 2 its beginning, 3 a part of it, 4 not at all. */
  function rank(texts, wanted) {
    if (texts.includes(wanted)) return 0;
    if (texts.some((text) => withoutZeros(text) === withoutZeros(wanted))) return 1;
    if (texts.some((text) => text.startsWith(wanted))) return 2;
    return texts.some((text) => text.includes(wanted)) ? 3 : 4;
  }

  /* Entries that fit, the best first, each with its rank. */
  plotmap.matches = function (entries, text) {
    const wanted = folded(text);
    if (!wanted) return [];
    return entries
      .map((entry) => ({ entry: entry, rank: rank(entry.texts, wanted) }))
      .filter((found) => found.rank < 4)
      .sort((one, other) => one.rank - other.rank);
  };

  /* The list below the input. pick is called with the entry that was clicked. */
  function choices(survey, input, pick) {
    const list = plotmap.byId("find-choices");
    let shown = [];
    let active = -1;

    function activate(number) {
      active = number;
      [...list.children].forEach((item, place) => item.setAttribute("aria-selected", String(place === number)));
      if (number < 0) input.removeAttribute("aria-activedescendant");
      else {
        input.setAttribute("aria-activedescendant", list.children[number].id);
        list.children[number].scrollIntoView({ block: "nearest" });
      }
    }

    function item({ entry }, number) {
      const home = entry.kind === "plot" ? survey.plots.compartment[entry.row] : -1;
      const where = home < 0 ? null : make("span", { class: "unit" }, ` ${plotmap.say("find_in", { name: plotmap.fullName(survey, home) })}`);
      const made = make("li", { role: "option", id: `find-choice-${number}`, "aria-selected": "false" }, entry.title, where);
      made.addEventListener("pointerdown", (event) => event.preventDefault());
      made.addEventListener("click", () => pick(entry));
      return made;
    }

    return {
      show(found) {
        shown = found.slice(0, MOST);
        list.replaceChildren(...shown.map(item));
        list.hidden = !shown.length;
        plotmap.byId("find-room").classList.toggle("open", shown.length > 0);
        input.setAttribute("aria-expanded", String(shown.length > 0));
        activate(-1);
      },
      move(step) {
        const count = shown.length;
        if (count) activate(active < 0 && step < 0 ? count - 1 : (active + step + count) % count);
      },
      active: () => (active < 0 ? null : shown[active].entry),
      isOpen: () => !list.hidden,
    };
  }

  plotmap.setUpFind = function (survey, open) {
    const input = plotmap.byId("find-input");
    const note = plotmap.byId("find-note");
    let entries = null;
    const found = () => plotmap.matches((entries = entries || plotmap.findable(survey)), input.value);
    const shut = () => {
      if (!list.isOpen()) return;
      list.show([]);
      note.textContent = "";
    };
    const pick = (entry) => {
      shut();
      note.textContent = "";
      open[entry.kind](entry.row, input);
    };
    const list = choices(survey, input, pick);
    const counted = (number) => plotmap.say(number > MOST ? "find_first" : "find_some", { n: number, most: MOST });
    const find = () => {
      const fits = found();
      const best = fits.filter((fit) => fit.rank === fits[0].rank);
      if (list.active()) pick(list.active());
      else if (best.length === 1) pick(best[0].entry);
      else {
        list.show(fits);
        if (fits.length) note.textContent = counted(fits.length);
        else note.textContent = input.value.trim() ? plotmap.say("find_none") : "";
      }
    };
    plotmap.byId("find").addEventListener("submit", (event) => {
      event.preventDefault();
      find();
    });
    input.addEventListener("input", () => {
      const fits = found();
      note.textContent = fits.length > MOST ? counted(fits.length) : "";
      list.show(fits);
    });
    input.addEventListener("keydown", (event) => {
      if (!list.isOpen() || !["ArrowDown", "ArrowUp", "Escape"].includes(event.key)) return;
      event.preventDefault();
      if (event.key === "Escape") shut();
      else list.move(event.key === "ArrowDown" ? 1 : -1);
    });
    plotmap.byId("find").addEventListener("focusout", (event) => {
      if (!plotmap.byId("find").contains(event.relatedTarget)) shut();
    });
  };
})(window.plotmap);
