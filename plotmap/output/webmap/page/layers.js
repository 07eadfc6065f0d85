"use strict";
/* Compartments and plots on the map. */
(function (plotmap) {
  const OFTEN = 2000; /* above this many plots the layer is off until it is asked for */
  const HOVER = 3;

  plotmap.addCompartments = function (map, survey, renderer, open) {
    const shapes = plotmap.unpackOutlines(survey.outlines, survey.survey.degree);
    const group = L.featureGroup();
    const layers = shapes.map((polygons, row) => {
      if (!polygons.length) return null;
      const layer = L.polygon(polygons, { renderer: renderer, fillOpacity: 1, opacity: 1, smoothFactor: 0.5 });
      layer.row = row;
      return layer.addTo(group);
    });
    group.on("click", (event) => {
      L.DomEvent.stopPropagation(event);
      open(event.layer.row);
    });
    group.on("mouseover", (event) => event.layer.setStyle({ weight: HOVER }));
    group.on("mouseout", (event) => event.layer.setStyle({ weight: event.layer.usualWeight }));
    group.bindTooltip((layer) => plotmap.make("span", {}, plotmap.hoverText(survey, layer.row)), { sticky: true, opacity: 1, className: "hover" });
    group.addTo(map);
    return { group: group, layers: layers };
  };

  /* A strong outline for the compartment whose card is open, above its neighbours. */
  plotmap.strongOutline = (layer) =>
    L.polygon(layer.getLatLngs(), { renderer: layer.options.renderer, fill: false, weight: 4, color: "#111511", opacity: 1, interactive: false });

  /* A ring round the plot whose card is open. */
  plotmap.ring = (place, renderer) =>
    L.circleMarker(place, { renderer: renderer, radius: 11, shape: "ring", fill: false, weight: 3, color: "#111511", interactive: false });

  plotmap.paint = function (survey, layers) {
    layers.forEach((layer, row) => {
      if (!layer) return;
      const style = plotmap.compartmentStyle(survey, survey.theme, row);
      layer.usualWeight = style.weight;
      layer.setStyle(style);
    });
  };

  /* Half the width of a mark in px: smaller where plots lie close. */
  function markSize(map, number, bounds) {
    const one = map.project(bounds.getNorthWest());
    const other = map.project(bounds.getSouthEast());
    const room = Math.sqrt((Math.abs(other.x - one.x) * Math.abs(other.y - one.y)) / number);
    return Math.min(5, Math.max(1, Math.round(2 * 0.12 * room) / 2)) || 5;
  }

  function plotLayer(map, { renderer, places }, kinds, open) {
    const bounds = L.latLngBounds(places);
    const group = L.featureGroup();
    let size = 0;
    places.forEach((place, row) => {
      const layer = L.circleMarker(place, { renderer: renderer, radius: 5, ...plotmap.PLOT_STYLES[kinds[row]] });
      layer.row = row;
      layer.addTo(group);
    });
    const fitSize = () => {
      const wanted = markSize(map, places.length, bounds);
      if (wanted !== size) group.eachLayer((layer) => layer.setRadius(wanted));
      size = wanted;
    };
    fitSize();
    map.on("zoomend", fitSize);
    group.on("click", (event) => {
      L.DomEvent.stopPropagation(event);
      open(event.layer.row);
    });
    return group;
  }

  /* Plots with their check box; returns what puts them on the map if they are not. */
  plotmap.addPlots = function (map, survey, drawn, kinds, { open, toggled }) {
    const box = plotmap.byId("plots-toggle");
    let group = null;
    const show = () => {
      if (box.checked && !group) group = plotLayer(map, drawn, kinds, open);
      if (box.checked) group.addTo(map);
      else if (group) group.remove();
      plotmap.byId("plots-legend").hidden = !box.checked;
      toggled(box.checked);
    };
    box.checked = kinds.length > 0 && kinds.length <= OFTEN;
    box.disabled = kinds.length === 0;
    box.addEventListener("change", show);
    show();
    return () => {
      if (box.checked) return;
      box.checked = true;
      show();
    };
  };
})(window.plotmap);
