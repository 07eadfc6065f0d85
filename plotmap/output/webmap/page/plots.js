"use strict";
/* Plots on the map: single marks, or, where too many are in view, circles with their number. */
(function (plotmap) {
  const OFTEN = 2000; /* above this many plots the layer is off until it is asked for */
  const MOST_SINGLE = 2000; /* plots in view up to which each has its mark */
  const CELL = 64; /* px, plots in such a square are gathered */
  const NEAR = 3; /* px round a mark that count as the mark */
  const COUNTED = new Set(["measured", "empty"]);
  const INK = "#1b1b1b";
  const REST = "#c2540a";

  /* A ring round the plot whose card is open. */
  plotmap.ring = (place, renderer) =>
    L.circleMarker(place, { renderer: renderer, radius: 11, shape: "ring", fill: false, weight: 3, color: "#111511", interactive: false });

  /* Half the width of a mark in px: smaller where plots lie close. */
  function markSize(room) {
    return Math.min(5, Math.max(1, Math.round(2 * 0.12 * room) / 2)) || 5;
  }

  function extent(values) {
    let [low, high] = [Infinity, -Infinity];
    for (const value of values) {
      if (value < low) low = value;
      if (value > high) high = value;
    }
    return high - low;
  }

  function rowsIn({ x, y }, { scale, left, top, from, to }) {
    const [fromX, toX, fromY, toY] = [(from.x + left) / scale, (to.x + left) / scale, (from.y + top) / scale, (to.y + top) / scale];
    const rows = [];
    for (let row = 0; row < x.length; row += 1) if (x[row] >= fromX && x[row] <= toX && y[row] >= fromY && y[row] <= toY) rows.push(row);
    return rows;
  }

  /* Plots of each square of the plane as one: middle in the plane, number, and how many are in no estimate. */
  function gathered({ x, y }, rows, kinds, scale) {
    const cells = new Map();
    for (const row of rows) {
      const key = Math.floor((y[row] * scale) / CELL) * 2 ** 26 + Math.floor((x[row] * scale) / CELL);
      let cell = cells.get(key);
      if (!cell) cells.set(key, (cell = { x: 0, y: 0, number: 0, rest: 0 }));
      cell.x += x[row];
      cell.y += y[row];
      cell.number += 1;
      if (!COUNTED.has(kinds[row])) cell.rest += 1;
    }
    return [...cells.values()].map((cell) => ({ ...cell, x: cell.x / cell.number, y: cell.y / cell.number }));
  }

  const words = (number) => plotmap.number(number, { decimals: 0, unit: "" });
  const radiusOf = (number) => 9 + 2.6 * String(number).length;

  function circle(context, { number, rest }, x, y) {
    const radius = radiusOf(number);
    const from = -Math.PI / 2;
    const turn = from + (2 * Math.PI * rest) / number;
    context.beginPath();
    context.arc(x, y, radius, 0, 2 * Math.PI);
    context.fillStyle = "#ffffff";
    context.fill();
    for (const [colour, start, end] of [[INK, turn, from + 2 * Math.PI], [REST, from, turn]]) {
      if (start === end) continue;
      context.beginPath();
      context.arc(x, y, radius - 1.5, start, end);
      context.strokeStyle = colour;
      context.lineWidth = colour === INK ? 2 : 4;
      context.stroke();
    }
    context.fillStyle = INK;
    context.fillText(words(number), x, y + 0.5);
  }

  function painter(map, { renderer, plots }, kinds, open, told) {
    const area = extent(plots.x) * extent(plots.y);
    const styles = Object.fromEntries(Object.entries(plotmap.PLOT_STYLES));
    const font = `600 11px ${getComputedStyle(map.getContainer()).fontFamily}`;
    let rows = [];
    let circles = null; /* where too many are in view */
    let size = 5;

    function look(view) {
      rows = rowsIn(plots, view);
      const { min, max } = map.getPixelBounds();
      const origin = map.getPixelOrigin();
      const inView = rowsIn(plots, { ...view, from: min.subtract(origin), to: max.subtract(origin) }).length;
      circles = inView > MOST_SINGLE ? gathered(plots, rows, kinds, view.scale) : null;
      size = markSize(Math.sqrt(area / plots.x.length) * view.scale);
      told(circles !== null);
    }

    return {
      circles: () => circles || [],
      draw(context, view) {
        if (view.whole) look(view);
        const at = (value, low) => value * view.scale - low;
        if (circles) {
          context.font = font;
          context.textAlign = "center";
          context.textBaseline = "middle";
          context.lineCap = "butt";
          for (const cell of circles) circle(context, cell, at(cell.x, view.left), at(cell.y, view.top));
          return;
        }
        for (const row of rows) {
          const [x, y] = [at(plots.x[row], view.left), at(plots.y[row], view.top)];
          if (x > view.from.x - 9 && x < view.to.x + 9 && y > view.from.y - 9 && y < view.to.y + 9) plotmap.mark(context, styles[kinds[row]], x, y, size);
        }
      },
      pick(x, y, scale) {
        const far = (one) => Math.hypot(one.x - x, one.y - y) * scale;
        if (circles) return circles.find((cell) => far(cell) <= radiusOf(cell.number)) || null;
        let [best, least] = [null, size + NEAR];
        for (const row of rows) {
          const away = far({ x: plots.x[row], y: plots.y[row] });
          if (away <= least) [best, least] = [row, away];
        }
        return best;
      },
      click(found) {
        if (typeof found === "number") open(found);
        else map.setView(plotmap.placeOf(found.x, found.y), map.getZoom() + 2, { animate: false });
      },
    };
  }

  /* Plots with their check box; show puts them on the map if they are not, circles tells of those that gather many. */
  plotmap.addPlots = function (map, drawn, kinds, { open, toggled }) {
    const box = plotmap.byId("plots-toggle");
    const gatheredNote = plotmap.byId("plots-gathered");
    const painted = painter(map, drawn, kinds, open, (many) => {
      gatheredNote.hidden = !many;
    });
    const { painters } = drawn.renderer;
    const show = () => {
      const place = painters.indexOf(painted);
      if (box.checked && place < 0) painters.push(painted);
      if (!box.checked && place >= 0) painters.splice(place, 1);
      plotmap.byId("plots-legend").hidden = !box.checked;
      if (!box.checked) gatheredNote.hidden = true;
      drawn.renderer.redrawAll();
      toggled(box.checked);
    };
    gatheredNote.textContent = plotmap.say("plots_gathered", { n: words(MOST_SINGLE) });
    box.checked = kinds.length > 0 && kinds.length <= OFTEN;
    box.disabled = kinds.length === 0;
    box.addEventListener("change", show);
    show();
    return {
      circles: () => (box.checked ? painted.circles().map((cell) => ({ x: cell.x, y: cell.y, radius: radiusOf(cell.number) })) : []),
      show() {
        if (box.checked) return;
        box.checked = true;
        show();
      },
    };
  };
})(window.plotmap);
