"use strict";
/* Find a compartment by its number or name, or a plot by its number. Where several fit, they are listed to choose from. */
(function (plotmap) {
  const MOST = 8; /* choices listed at once */
  const make = plotmap.make;
  const folded = (text) => text.trim().replace(/\s+/g, " ").toLocaleLowerCase("en");
  const withoutZeros = (text) => text.replace(/(^|\D)0+(?=\d)/g, "$1");

  /* All that can be found: texts of compartments by row; numbers of plots by row, and what stands round them. */
  plotmap.findable = function (survey) {
    const { compartments, plots } = survey;
    const [before, behind] = plotmap.say("plot", { name: "\u0000" }).toLocaleLowerCase("en").split("\u0000");
    return {
      compartments: compartments.compartment.map((number, row) =>
        [number, compartments.name[row] || number, plotmap.fullName(survey, row), plotmap.say("find_compartment", { name: number })].map(folded),
      ),
      plots: plots.plot.map(folded),
      before: before,
      behind: behind,
    };
  };

  /* How well a text fits: 0 the same, 1 the same but for leading zeros, 2 its beginning, 3 a part of it, 4 not at all. */
  function rank(text, { wanted, bare, end }) {
    if (text === wanted) return 0;
    if (text.endsWith(end) && withoutZeros(text) === bare) return 1;
    if (text.startsWith(wanted)) return 2;
    return text.includes(wanted) ? 3 : 4;
  }

  /* What fits, the best first, each with its rank. */
  plotmap.matches = function (findable, text) {
    const wanted = folded(text);
    if (!wanted) return [];
    const bare = withoutZeros(wanted);
    const how = { wanted: wanted, bare: bare, end: bare.match(/\d+$|.$/u)[0] };
    const byRank = [[], [], [], []];
    const add = (kind, row, found) => found < 4 && byRank[found].push({ entry: { kind: kind, row: row }, rank: found });
    findable.compartments.forEach((texts, row) => add("compartment", row, Math.min(...texts.map((one) => rank(one, how)))));
    findable.plots.forEach((number, row) => add("plot", row, Math.min(rank(number, how), rank(findable.before + number + findable.behind, how))));
    return byRank.flat();
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
      const title = entry.kind === "plot" ? plotmap.say("plot", { name: survey.plots.plot[entry.row] }) : plotmap.fullName(survey, entry.row);
      const home = entry.kind === "plot" ? survey.plots.compartment[entry.row] : -1;
      const where = home < 0 ? null : make("span", { class: "unit" }, ` ${plotmap.say("find_in", { name: plotmap.fullName(survey, home) })}`);
      const made = make("li", { role: "option", id: `find-choice-${number}`, "aria-selected": "false" }, title, where);
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
