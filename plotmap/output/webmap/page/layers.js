"use strict";
/* Compartments on the map. */
(function (plotmap) {
  const HOVER = 3; /* px, outline under the pointer */
  const FINE = 2; /* parts of a pixel that vertices are drawn to, whole pixels where compartments are small */
  const SMALL = 12; /* px */
  const DOT = 1.5; /* px, smaller compartments are drawn as a dot */
  const OUTLINED = 5; /* px, the usual side of a compartment from which on outlines are drawn */
  const FULL_OUTLINE = 12; /* px, from which on they have their full width */
  const DASHED = 14; /* px, from which on those without plots have dashes */
  const AT_ONCE = 200; /* outlines drawn by one stroke */

  /* Add the rings of a compartment to the path. Vertices go to parts of a pixel, those of neighbours alike, and
     what falls together is drawn once. */
  function trace(context, shapes, row, { scale, left, top, fine }) {
    const { x, y, vertex, ring } = shapes;
    const [wide, west, north] = [scale * fine, left * fine, top * fine];
    for (let number = ring[row]; number < ring[row + 1]; number += 1) {
      let [lastX, lastY, firstX, firstY] = [NaN, NaN, 0, 0];
      for (let at = vertex[number]; at < vertex[number + 1]; at += 1) {
        const toX = Math.round(x[at] * wide - west);
        const toY = Math.round(y[at] * wide - north);
        if (toX === lastX && toY === lastY) continue;
        if (at === vertex[number]) context.moveTo((firstX = toX / fine), (firstY = toY / fine));
        else context.lineTo(toX / fine, toY / fine);
        lastX = toX;
        lastY = toY;
      }
      context.lineTo(firstX, firstY);
    }
  }

  /* Whether a place lies inside a compartment: as many edges to its right as are odd. */
  function inside(shapes, row, placeX, placeY) {
    const { x, y, vertex, ring } = shapes;
    let odd = false;
    for (let number = ring[row]; number < ring[row + 1]; number += 1) {
      let before = vertex[number + 1] - 1;
      for (let at = vertex[number]; at < vertex[number + 1]; before = at, at += 1)
        if (y[at] > placeY !== y[before] > placeY && placeX < ((x[before] - x[at]) * (placeY - y[at])) / (y[before] - y[at]) + x[at]) odd = !odd;
    }
    return odd;
  }

  /* Half of the compartments have a longer side than this, in the plane. */
  function usualSide({ west, east, north, south }) {
    const sides = Float64Array.from(west, (_, row) => Math.sqrt((east[row] - west[row]) * (south[row] - north[row]))).filter((side) => side > 0);
    return sides.length ? sides.sort()[sides.length >> 1] : 0;
  }

  /* Rows with an outline inside the view. */
  function rowsIn({ west, east, north, south, number }, { scale, left, top, from, to }, around) {
    const [fromX, toX] = [(from.x - around + left) / scale, (to.x + around + left) / scale];
    const [fromY, toY] = [(from.y - around + top) / scale, (to.y + around + top) / scale];
    const rows = [];
    for (let row = 0; row < number; row += 1)
      if (east[row] >= fromX && west[row] <= toX && south[row] >= fromY && north[row] <= toY) rows.push(row);
    return rows;
  }

  function fill(context, shapes, rows, look, view) {
    const hatch = look.hatch ? plotmap.hatchPattern(context, look.hatch) : null;
    for (const row of rows) {
      const [wide, high] = [(shapes.east[row] - shapes.west[row]) * view.scale, (shapes.south[row] - shapes.north[row]) * view.scale];
      context.fillStyle = look.fillColor;
      if (wide < DOT && high < DOT) {
        context.fillRect(shapes.west[row] * view.scale - view.left, shapes.north[row] * view.scale - view.top, Math.max(1, wide), Math.max(1, high));
        continue;
      }
      context.beginPath();
      trace(context, shapes, row, view);
      context.fill("evenodd");
      if (!hatch) continue;
      context.fillStyle = hatch;
      context.fill("evenodd");
    }
  }

  function outline(context, shapes, rows, look, view, side) {
    context.strokeStyle = look.color;
    context.lineWidth = look.weight * Math.min(1, side / FULL_OUTLINE);
    context.setLineDash(look.dashArray && side >= DASHED ? look.dashArray.split(" ").map(Number) : []);
    for (let start = 0; start < rows.length; start += AT_ONCE) {
      context.beginPath();
      for (const row of rows.slice(start, start + AT_ONCE)) trace(context, shapes, row, view);
      context.stroke();
    }
  }

  /* Compartments by what they look like, in an order that does not change. */
  function looks(survey, number) {
    const found = new Map();
    const ofRow = new Uint16Array(number);
    const list = [];
    for (let row = 0; row < number; row += 1) {
      const key = `${survey.theme.classes[row]} ${survey.hatches[row]}`;
      if (!found.has(key)) {
        found.set(key, list.length);
        list.push(plotmap.compartmentStyle(survey, survey.theme, row));
      }
      ofRow[row] = found.get(key);
    }
    return { list: list, ofRow: ofRow };
  }

  function painter(survey, shapes, open) {
    const usual = usualSide(shapes);
    let look = null;
    return {
      over: null, /* row under the pointer */
      paint() {
        look = looks(survey, shapes.number);
      },
      draw(context, area) {
        const side = usual * area.scale;
        const view = { ...area, fine: side < SMALL ? 1 : FINE };
        const groups = look.list.map(() => []);
        for (const row of rowsIn(shapes, view, HOVER)) groups[look.ofRow[row]].push(row);
        context.globalAlpha = 1;
        context.lineJoin = context.lineCap = "round";
        groups.forEach((rows, number) => fill(context, shapes, rows, look.list[number], view));
        if (side >= OUTLINED) groups.forEach((rows, number) => outline(context, shapes, rows, look.list[number], view, side));
        if (this.over !== null) outline(context, shapes, [this.over], { ...look.list[look.ofRow[this.over]], weight: HOVER }, view, FULL_OUTLINE);
        context.setLineDash([]);
      },
      pick(x, y) {
        const { west, east, north, south } = shapes;
        for (let row = shapes.number - 1; row >= 0; row -= 1)
          if (x >= west[row] && x <= east[row] && y >= north[row] && y <= south[row] && inside(shapes, row, x, y)) return row;
        return null;
      },
      click: open,
    };
  }

  /* Outline and words of the compartment under the pointer. */
  function followPointer(map, survey, renderer, shapes, painted) {
    const tip = L.tooltip({ opacity: 1, className: "hover" });
    const again = (row) => {
      if (row === null) return;
      const { scale, left, top } = renderer.view(null);
      const corner = (x, y) => L.point(x * scale - left, y * scale - top);
      renderer.redrawPart(corner(shapes.west[row], shapes.north[row]), corner(shapes.east[row], shapes.south[row]));
    };
    renderer.hovered = (picked, event) => {
      const row = picked && picked.painter === painted ? picked.found : null;
      if (row !== painted.over) {
        again(painted.over);
        painted.over = row;
        again(row);
        if (row === null) tip.remove();
        else tip.setContent(plotmap.make("span", {}, plotmap.hoverText(survey, row)));
      }
      if (row === null) return;
      tip.setLatLng(map.mouseEventToLatLng(event));
      if (!map.hasLayer(tip)) tip.addTo(map);
    };
    map.on("movestart zoomstart", () => renderer.hovered(null));
  }

  function wholeOf(shapes) {
    const bounds = L.latLngBounds([]);
    for (let row = 0; row < shapes.number; row += 1)
      if (shapes.west[row] <= shapes.east[row]) bounds.extend(plotmap.placeOf(shapes.west[row], shapes.north[row])).extend(plotmap.placeOf(shapes.east[row], shapes.south[row]));
    return bounds;
  }

  /* Compartments on the canvas. bounds gives the box round one, null where it has no outline; outline a strong one
     for the compartment whose card is open, above its neighbours. */
  plotmap.addCompartments = function (map, survey, renderer, open) {
    const shapes = plotmap.unpackOutlines(survey.outlines, survey.survey.degree);
    const painted = painter(survey, shapes, open);
    painted.paint();
    renderer.painters.push(painted);
    followPointer(map, survey, renderer, shapes, painted);
    const { x, y, vertex, ring, west, east, north, south } = shapes;
    const ringOf = (number) => Array.from({ length: vertex[number + 1] - vertex[number] }, (_, at) => plotmap.placeOf(x[vertex[number] + at], y[vertex[number] + at]));
    const ringsOf = (row) => Array.from({ length: ring[row + 1] - ring[row] }, (_, at) => [ringOf(ring[row] + at)]);
    return {
      whole: wholeOf(shapes),
      bounds: (row) => (row >= 0 && west[row] <= east[row] ? L.latLngBounds(plotmap.placeOf(west[row], north[row]), plotmap.placeOf(east[row], south[row])) : null),
      outline: (row) => L.polygon(ringsOf(row), { renderer: renderer, fill: false, weight: 4, color: "#111511", opacity: 1, interactive: false }),
      repaint() {
        painted.paint();
        renderer.redrawAll();
      },
    };
  };
})(window.plotmap);
