"use strict";
/* The card of the compartment or plot that was chosen: beside the map, on a narrow screen below it. */
(function (plotmap) {
  const MARGIN = { left: 56, top: 14, right: 56, bottom: 34 }; /* room for the controls round what was chosen, in px */

  /* The smallest shift that brings low..high inside from..to, or, where it is longer, over the whole of it. */
  function shift(low, high, from, to) {
    const [least, most] = [from - low, to - high].sort((one, other) => one - other);
    return Math.min(Math.max(0, least), most);
  }

  function reveal(map, bounds) {
    const size = map.getSize();
    const corner = map.latLngToContainerPoint(bounds.getNorthWest());
    const other = map.latLngToContainerPoint(bounds.getSouthEast());
    const right = shift(corner.x, other.x, MARGIN.left, size.x - MARGIN.right);
    const down = shift(corner.y, other.y, MARGIN.top, size.y - MARGIN.bottom);
    if (right || down) map.panBy([-right, -down], { animate: false });
  }

  /* Returns open, close and the row of the compartment shown. changed is called with the row of the compartment shown, or null. */
  plotmap.setUpCard = function (map, changed) {
    const card = plotmap.byId("card");
    const body = plotmap.byId("card-body");
    let mark = null;
    let back = null;
    let row = null;

    function leave() {
      if (mark) mark.remove();
      mark = null;
    }

    function show(shown) {
      card.hidden = !shown;
      plotmap.byId("app").classList.toggle("card-open", shown);
      map.invalidateSize({ pan: false, animate: false });
    }

    function close() {
      if (card.hidden) return;
      const held = card.contains(document.activeElement);
      leave();
      show(false);
      body.replaceChildren();
      row = null;
      changed(null);
      if (held) (back && back.offsetParent ? back : map.getContainer()).focus({ preventScroll: true });
    }

    /* what: the mark on the map, the bounds to keep in sight, the row of the compartment, where the focus goes back to. */
    function open(content, what) {
      leave();
      content.querySelector("h2").id = "card-title";
      body.replaceChildren(content);
      body.scrollTop = 0;
      show(true);
      back = what.back || null;
      mark = what.mark || null;
      if (mark) mark.addTo(map);
      if (what.bounds) reveal(map, what.bounds);
      row = what.row === undefined ? null : what.row;
      plotmap.byId("card-walk").hidden = row === null;
      changed(row);
      if (back) content.querySelector("h2").focus({ preventScroll: true });
    }

    plotmap.byId("card-close").addEventListener("click", close);
    map.on("click", close);
    document.addEventListener("keydown", (event) => {
      if (event.key === "Escape" && !event.defaultPrevented && !plotmap.byId("table-dialog").open) close();
    });
    return { open: open, close: close, row: () => row };
  };
})(window.plotmap);
