"use strict";
/* On paper: the map with its legend on one page, the open card on the next, then all compartments as a table. */
(function (plotmap) {
  const MOST_ROWS = 500; /* compartments up to which the table is printed with the map */

  /* Whether the map is not much nearer than it is for the whole survey. */
  const seesWhole = (map, whole) => whole.isValid() && map.getZoom() < map.getBoundsZoom(whole) + 1;

  function copied(card) {
    const copy = card.cloneNode(true);
    copy.querySelector("h2").removeAttribute("id");
    return copy;
  }

  plotmap.setUpPrint = function (map, survey, renderer, whole) {
    const page = document.documentElement;
    const more = plotmap.byId("print-more");
    const allCompartments = () => plotmap.make("section", {}, plotmap.make("h2", {}, plotmap.say("table_title")), plotmap.overview(survey, null));
    let view = null;
    window.addEventListener("beforeprint", () => {
      view = { centre: map.getCenter(), zoom: map.getZoom() };
      const bounds = seesWhole(map, whole) ? whole : map.getBounds();
      const alone = plotmap.byId("table-dialog").open;
      page.classList.add("printing");
      page.classList.toggle("table-alone", alone);
      map.invalidateSize({ pan: false, animate: false });
      map.fitBounds(bounds, { animate: false });
      renderer._redraw(); /* at once: no frame is drawn before the page is printed */
      const card = plotmap.byId("card-body").firstChild;
      if (card && !alone) more.append(copied(card));
      if (alone || survey.compartments.compartment.length <= MOST_ROWS) more.append(allCompartments());
    });
    window.addEventListener("afterprint", () => {
      page.classList.remove("printing", "table-alone");
      more.replaceChildren();
      map.invalidateSize({ pan: false, animate: false });
      map.setView(view.centre, view.zoom, { animate: false });
    });
  };
})(window.plotmap);
