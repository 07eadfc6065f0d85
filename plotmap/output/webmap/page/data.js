"use strict";
/* The packed figures and outlines of this file; how they are packed is told in packing.py. */
(function (plotmap) {
  const HEAD = 4; /* bytes that say how long the head is */

  /* Whole numbers of some bytes each, the lowest bytes of all of them first. */
  function wholeNumbers(bytes, at, { count, width }) {
    const numbers = new Float64Array(count);
    for (let plane = 0; plane < width; plane += 1) {
      const weight = 2 ** (8 * plane);
      const start = at + plane * count;
      for (let row = 0; row < count; row += 1) numbers[row] += weight * bytes[start + row];
    }
    return numbers;
  }

  /* The values of a packed column: an array of numbers, or a list with null for what is missing. */
  plotmap.unpackColumn = function (bytes, start, column) {
    const numbers = wholeNumbers(bytes, start + column.at, column);
    const { signed, steps, gaps, decimals } = column;
    const unit = 10 ** decimals;
    const missing = gaps ? Uint8Array.from(numbers, (number) => number === 0) : null;
    let sum = 0;
    for (let row = 0; row < numbers.length; row += 1) {
      let number = gaps ? numbers[row] - 1 : numbers[row];
      if (signed) number = number % 2 ? -(number + 1) / 2 : number / 2;
      if (steps) number = sum += number;
      numbers[row] = decimals ? number / unit : number;
    }
    for (const [row, value] of column.odd) numbers[row] = value;
    if (column.array) return numbers;
    const list = Array.from(numbers);
    if (missing) missing.forEach((is, row) => is && (list[row] = null));
    return list;
  };

  /* Put a column where it belongs; it is unpacked when it is first asked for. */
  function place(content, column, unpack) {
    const path = [...column.path];
    const last = path.pop();
    const home = path.reduce((part, key) => part[key], content);
    const fix = (value) => Object.defineProperty(home, last, { value: value, enumerable: true, configurable: true, writable: true });
    Object.defineProperty(home, last, {
      enumerable: true,
      configurable: true,
      get() {
        const value = unpack(column);
        fix(value);
        return value;
      },
      set: fix,
    });
  }

  plotmap.unpack = async function () {
    const element = plotmap.byId("survey-data");
    const packed = atob(element.textContent);
    element.textContent = "";
    const given = new Uint8Array(packed.length);
    for (let at = 0; at < packed.length; at += 1) given[at] = packed.charCodeAt(at);
    const stream = new Blob([given]).stream().pipeThrough(new DecompressionStream("gzip"));
    const bytes = new Uint8Array(await new Response(stream).arrayBuffer());
    const start = HEAD + new DataView(bytes.buffer).getUint32(0, true);
    const { content, columns } = JSON.parse(new TextDecoder().decode(bytes.subarray(HEAD, start)));
    for (const column of columns) place(content, column, (found) => plotmap.unpackColumn(bytes, start, found));
    return content;
  };

  /* The plane the map is drawn on: spherical Mercator, the whole world from 0 to 1, y downwards. */
  const worldX = (lon) => lon / 360 + 0.5;
  const worldY = (lat) => 0.5 - Math.log(Math.tan(Math.PI / 4 + (lat * Math.PI) / 360)) / (2 * Math.PI);
  const latOf = (y) => (Math.atan(Math.sinh(Math.PI * (1 - 2 * y))) * 180) / Math.PI;
  plotmap.placeOf = (x, y) => L.latLng(latOf(y), (x - 0.5) * 360);

  /* Places given by steps: lon and lat in degrees, x and y in the plane. */
  function places({ lon, lat }, degree) {
    const count = lon.length;
    const found = { lon: new Float64Array(count), lat: new Float64Array(count), x: new Float64Array(count), y: new Float64Array(count) };
    let [east, north] = [0, 0];
    for (let row = 0; row < count; row += 1) {
      east += lon[row];
      north += lat[row];
      found.lon[row] = east / degree;
      found.lat[row] = north / degree;
      found.x[row] = worldX(found.lon[row]);
      found.y[row] = worldY(found.lat[row]);
    }
    return found;
  }
  plotmap.unpackPlaces = places;

  /* Where each part begins, and behind the last where it ends. */
  function starts(counts) {
    const found = new Uint32Array(counts.length + 1);
    for (let row = 0; row < counts.length; row += 1) found[row + 1] = found[row] + counts[row];
    return found;
  }

  /* Outlines of all compartments: x and y of the vertices, the first vertex of each ring, the first ring of each
     compartment, and the box round each (west, east, north, south), NaN where it has no outline. */
  plotmap.unpackOutlines = function (outlines, degree) {
    const { x, y } = places(outlines, degree);
    const vertex = starts(outlines.vertices);
    const ringOfPolygon = starts(outlines.rings);
    const ring = starts(outlines.polygons).map((polygon) => ringOfPolygon[polygon]);
    const number = outlines.polygons.length;
    const box = () => new Float64Array(number).fill(NaN);
    const found = { x: x, y: y, vertex: vertex, ring: ring, number: number, west: box(), east: box(), north: box(), south: box() };
    for (let row = 0; row < number; row += 1) {
      const [first, last] = [vertex[ring[row]], vertex[ring[row + 1]]];
      if (first === last) continue;
      let [west, east, north, south] = [Infinity, -Infinity, Infinity, -Infinity];
      for (let at = first; at < last; at += 1) {
        if (x[at] < west) west = x[at];
        if (x[at] > east) east = x[at];
        if (y[at] < north) north = y[at];
        if (y[at] > south) south = y[at];
      }
      [found.west[row], found.east[row], found.north[row], found.south[row]] = [west, east, north, south];
    }
    return found;
  };

  /* Positions as [lat, lon]. */
  plotmap.unpackPoints = function (points, degree) {
    const { lon, lat } = places(points, degree);
    return Array.from(lon, (east, row) => [lat[row], east]);
  };

  /* Rows of a table by the compartment they are of; made when they are first asked for. get gives a list, or
     undefined where there are none. */
  plotmap.rowsByCompartment = function (compartmentsOf) {
    let order = null;
    let first = null;
    function arrange() {
      const compartments = compartmentsOf();
      const counts = [];
      for (const row of compartments) counts[row + 1] = (counts[row + 1] || 0) + 1; /* row −1: of none */
      first = starts(Array.from(counts, (count) => count || 0));
      order = new Uint32Array(compartments.length);
      const next = first.slice();
      for (let at = 0; at < compartments.length; at += 1) order[next[compartments[at] + 1]++] = at;
    }
    return {
      get(row) {
        if (!order) arrange();
        const [from, to] = [first[row + 1], first[row + 2]];
        return to > from ? Array.from(order.subarray(from, to)) : undefined;
      },
    };
  };

  plotmap.word = (column, row) => (column.rows[row] < 0 ? null : column.words[column.rows[row]]);
})(window.plotmap);
