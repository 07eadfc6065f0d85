"use strict";
/* Layers of the user's own, drawn plainly above the compartments, and a background that is asked for only by its box. */
(function (plotmap) {
  const make = plotmap.make;
  const say = plotmap.say;
  const LOOKS = [
    { color: "#111511", dashArray: null },
    { color: "#1a4fa0", dashArray: null },
    { color: "#4a4f4b", dashArray: "7 4" },
    { color: "#1a4fa0", dashArray: "2 5" },
    { color: "#111511", dashArray: "10 3 2 3" },
  ];
  const HALO = { color: "#ffffff", weight: 4.5, opacity: 0.75 };

  function paths({ lon, lat, vertices }, degree) {
    let [x, y, vertex] = [0, 0, 0];
    return vertices.map((number) =>
      Array.from({ length: number }, () => {
        x += lon[vertex];
        y += lat[vertex++];
        return [y / degree, x / degree];
      }),
    );
  }

  function drawnLayer(layer, look, options, degree) {
    const lines = paths(layer.lines, degree);
    const points = plotmap.unpackPoints(layer.points, degree);
    const parts = [];
    if (lines.length) {
      parts.push(L.polyline(lines, { ...options, ...HALO, smoothFactor: 0.5 }));
      parts.push(L.polyline(lines, { ...options, ...look, weight: 2, opacity: 1, smoothFactor: 0.5 }));
    }
    for (const place of points) parts.push(L.circleMarker(place, { ...options, radius: 4.5, weight: 1.5, color: "#ffffff", fillColor: look.color, fillOpacity: 1 }));
    return L.layerGroup(parts);
  }

  /* A line as it is drawn, for the legend. */
  function sample(look) {
    const line = plotmap.draw("line", { x1: 1, x2: 29, y1: 9, y2: 9, stroke: look.color, "stroke-width": 2, "stroke-dasharray": look.dashArray });
    return plotmap.draw("svg", { class: "sample", viewBox: "0 0 30 18", width: 30, height: 18, "aria-hidden": "true" }, line);
  }

  function check(id, parts, checked, changed) {
    const input = make("input", { type: "checkbox", id: id });
    input.checked = checked;
    input.addEventListener("change", () => changed(input.checked));
    return make("label", { class: "check" }, input, ...parts);
  }

  plotmap.setUpExtras = function (map, survey) {
    if (!survey.extras.length) return;
    const pane = map.createPane("extras");
    pane.style.zIndex = 430;
    pane.style.pointerEvents = "none";
    const options = { renderer: L.svg({ pane: "extras", padding: 0.3 }) /* a second canvas would wipe out the first one on paper */, pane: "extras", interactive: false };
    const boxes = survey.extras.map((layer, number) => {
      const look = LOOKS[number % LOOKS.length];
      const drawn = drawnLayer(layer, look, options, survey.survey.degree).addTo(map);
      return check(`extra-${number}`, [sample(look), make("span", {}, layer.name)], true, (shown) => (shown ? drawn.addTo(map) : drawn.remove()));
    });
    plotmap.byId("extras").append(...boxes);
    plotmap.byId("extras-section").hidden = false;
  };

  /* The background of a host on the network: not asked before its box is ticked, and no more once it is unticked. */
  plotmap.setUpBackground = function (map, survey) {
    const { background } = survey;
    if (!background) return;
    const credit = make("span", {}, `${background.credit} · `);
    const through = check("see-through", [make("span", {}, say("see_through"))], false, (seen) => map.getContainer().classList.toggle("see-through", seen));
    let tiles = null;
    const show = (shown) => {
      through.hidden = !shown;
      if (shown) {
        tiles = L.tileLayer(background.address, { maxZoom: 22, maxNativeZoom: 19, referrerPolicy: "no-referrer" }).addTo(map);
        plotmap.byId("credit").prepend(credit);
        return;
      }
      tiles.remove();
      credit.remove();
      through.querySelector("input").checked = false;
      map.getContainer().classList.remove("see-through");
    };
    through.hidden = true;
    plotmap.byId("background").append(
      check("background-toggle", [make("span", {}, say("background", { host: background.host }))], false, show),
      make("p", { class: "note" }, say("background_note", { host: background.host })),
      through,
    );
    plotmap.byId("background-section").hidden = false;
  };
})(window.plotmap);
