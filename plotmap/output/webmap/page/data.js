"use strict";
/* The packed figures and outlines of this file. */
(function (plotmap) {
  plotmap.unpack = async function () {
    const packed = atob(plotmap.byId("survey-data").textContent);
    const bytes = Uint8Array.from(packed, (letter) => letter.charCodeAt(0));
    const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
    return new Response(stream).json();
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
    return outlines.polygons.map((polygons) => Array.from({ length: polygons }, nextPolygon));
  };

  /* Positions of all plots as [lat, lon]. */
  plotmap.unpackPoints = function (plots, degree) {
    let lon = 0;
    let lat = 0;
    return plots.lon.map((step, row) => {
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
