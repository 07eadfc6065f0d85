"use strict";
/* By keyboard: Page Down and Page Up on the map walk through the compartments in the order of the table. */
(function (plotmap) {
  const STEPS = { PageDown: 1, PageUp: -1 };

  plotmap.setUpWalk = function (map, survey, card, goTo) {
    const container = map.getContainer();
    const said = plotmap.byId("said");
    const number = survey.compartments.compartment.length;
    container.setAttribute("aria-label", plotmap.say("map_label"));
    let row = null;

    function walk(step) {
      const from = card.row() === null ? row : card.row();
      row = from === null ? (step > 0 ? 0 : number - 1) : (from + step + number) % number;
      goTo.compartment(row, container);
      container.focus({ preventScroll: true });
      said.textContent = plotmap.say("walk_said", { place: plotmap.hoverText(survey, row), n: row + 1, all: number });
    }

    container.addEventListener("keydown", (event) => {
      if (!(event.key in STEPS) || !number) return;
      event.preventDefault();
      walk(STEPS[event.key]);
    });
    for (const [id, step] of [["card-next", 1], ["card-before", -1]])
      plotmap.byId(id).addEventListener("click", () => {
        row = (card.row() + step + number) % number;
        goTo.compartment(row, null);
        plotmap.byId(id).focus({ preventScroll: true });
      });
  };
})(window.plotmap);
