"use strict";
/* Findings that have a place: one mark for each plot or compartment that has some. */
(function (plotmap) {
  const make = plotmap.make;
  const say = plotmap.say;
  const STYLE = { shape: "diamond", fillColor: "none", color: "#b3261e" };
  const AROUND_PLOT = 10; /* px */
  const AROUND_NUMBER = 16;

  /* Rows of the findings by the plot or compartment that they are of. */
  function places(survey, drawn) {
    const { findings, outlines } = survey;
    const { degree } = survey.survey;
    const found = new Map();
    findings.code.forEach((_, row) => {
      const [plot, home] = [findings.plot[row], findings.compartment[row]];
      const key = plot >= 0 ? `p${plot}` : `c${home}`;
      const at = plot >= 0 ? drawn.place(plot) : [outlines.anchor_lat[home] / degree, outlines.anchor_lon[home] / degree];
      if (!found.has(key)) found.set(key, { plot: plot, compartment: home, at: at, rows: [] });
      found.get(key).rows.push(row);
    });
    return [...found.values()];
  }

  function entry(survey, row) {
    const { findings } = survey;
    const code = findings.code[row];
    const severity = findings.severities[code];
    const message = findings.message[row];
    return make(
      "li",
      { class: `finding ${severity}` },
      make("p", { class: "finding-head" }, make("strong", {}, plotmap.tableWord(severity)), " ", make("code", {}, findings.codes[code])),
      make("p", {}, message === null ? findings.titles[code] : message),
      findings.hint[row] ? make("p", { class: "note" }, say("what_to_do", { hint: findings.hint[row] })) : null,
    );
  }

  function sheet(survey, place, goTo) {
    const { plots } = survey;
    const button = (text, act) => {
      const made = make("button", { type: "button", class: "link" }, text);
      made.addEventListener("click", () => act(made));
      return made;
    };
    const of =
      place.plot >= 0
        ? button(say("plot", { name: plots.plot[place.plot] }), (made) => goTo.plot(place.plot, made))
        : plotmap.compartmentLink(survey, place.compartment, goTo.compartment);
    return make(
      "article",
      { class: "sheet" },
      plotmap.sheetTitle([plotmap.count(place.rows.length, "findings")], plotmap.sayWith("findings_of", { name: of })),
      make("ul", { class: "findings" }, ...place.rows.map((row) => entry(survey, row))),
    );
  }

  /* The layer with its check box, off until it is asked for. */
  plotmap.setUpFindings = function (map, survey, drawn, card, goTo) {
    const { findings } = survey;
    const found = places(survey, drawn);
    const box = plotmap.byId("findings-toggle");
    const legend = plotmap.byId("findings-legend");
    let group = null;
    const show = () => {
      if (box.checked && !group) {
        group = L.featureGroup(found.map((place) => Object.assign(L.circleMarker(place.at, { renderer: drawn.renderer, radius: place.plot >= 0 ? AROUND_PLOT : AROUND_NUMBER, ...STYLE }), { finding: place })));
        group.on("click", (event) => {
          L.DomEvent.stopPropagation(event);
          const { finding } = event.layer;
          const at = event.layer.getLatLng();
          card.open(sheet(survey, finding, goTo), { mark: plotmap.ring(at, drawn.renderer), bounds: L.latLngBounds([at]) });
        });
      }
      if (box.checked) group.addTo(map);
      else if (group) group.remove();
      legend.hidden = !box.checked;
    };
    plotmap.byId("findings-label").textContent = say("findings_label", { n: plotmap.number(findings.code.length, { decimals: 0, unit: "" }) });
    plotmap.byId("findings-note").textContent = findings.without_place ? plotmap.count(findings.without_place, "findings_without_place") : "";
    legend.replaceChildren(make("li", {}, plotmap.markSample(STYLE), make("span", { class: "key-label" }, say("findings_key")), make("span", { class: "key-count" }, plotmap.number(found.length, { decimals: 0, unit: "" }))));
    box.checked = false;
    box.disabled = !found.length;
    box.addEventListener("change", show);
    show();
    return { show: () => { if (!box.checked && found.length) { box.checked = true; show(); } }, raise: () => { if (group && box.checked) group.bringToFront(); } };
  };
})(window.plotmap);
