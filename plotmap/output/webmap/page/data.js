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

  /* Outlines of all compartments: for each a list of polygons, each a list of rings of [lat, lon]. */
  plotmap.unpackOutlines = function (outlines, degree) {
    let lon = 0;
    let lat = 0;
    let vertex = 0;
    let ring = 0;
    let polygon = 0;
    const nextRing = () =>
      Array.from({ length: outlines.vertices[ring++] }, () => {
        lon += outlines.lon[vertex];
        lat += outlines.lat[vertex++];
        return [lat / degree, lon / degree];
      });
    const nextPolygon = () => Array.from({ length: outlines.rings[polygon++] }, nextRing);
    return Array.from(outlines.polygons, (polygons) => Array.from({ length: polygons }, nextPolygon));
  };

  /* Positions of all plots as [lat, lon]. */
  plotmap.unpackPoints = function (plots, degree) {
    let lon = 0;
    let lat = 0;
    return Array.from(plots.lon, (step, row) => {
      lon += step;
      lat += plots.lat[row];
      return [lat / degree, lon / degree];
    });
  };

  /* Eastings and northings of all plots in whole steps. */
  plotmap.unpackSteps = function (steps) {
    let sum = 0;
    return steps.map((step) => (sum += step));
  };

  /* Rows of a table by the compartment they are of. */
  plotmap.rowsByCompartment = function (compartments) {
    const rows = new Map();
    compartments.forEach((compartment, row) => {
      if (rows.has(compartment)) rows.get(compartment).push(row);
      else rows.set(compartment, [row]);
    });
    return rows;
  };

  plotmap.word = (column, row) => (column.rows[row] < 0 ? null : column.words[column.rows[row]]);
})(window.plotmap);
