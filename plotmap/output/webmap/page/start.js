"use strict";
/* Put the page together. */
(function (plotmap) {
  const NARROW = 640;
  const CLOSE_UP = 17;

  const AROUND = 60; /* margins of a pop-up and the room left beside it, in px */

  function openPopup(map, content, latlng, layer, back) {
    const size = map.getSize();
    const narrow = size.x <= NARROW;
    const popup = L.popup({
      maxWidth: Math.min(372, size.x - AROUND),
      minWidth: Math.min(size.x - AROUND, content.classList.contains("small") ? 240 : 340),
      maxHeight: size.y - 80,
      autoPanPaddingTopLeft: [narrow ? 12 : 56, 12],
      autoPanPaddingBottomRight: [narrow ? 12 : 56, 34],
    });
    const outline = layer ? plotmap.strongOutline(layer) : null;
    popup.setLatLng(latlng).setContent(content);
    popup.on("remove", () => {
      map.getContainer().classList.remove("popup-open");
      if (outline) outline.remove();
    });
    popup.openOn(map);
    if (outline) outline.addTo(map);
    map.getContainer().classList.add("popup-open");
    content.addEventListener("keydown", (event) => {
      if (event.key !== "Escape") return;
      popup.close();
      if (back) back.focus();
    });
    if (back) content.querySelector("h2").focus({ preventScroll: true });
  }

  function closePanel() {
    if (window.innerWidth <= NARROW && plotmap.byId("app").classList.contains("panel-open")) plotmap.byId("panel-toggle").click();
  }

  function goTo(map, survey, layers, row, back) {
    const { anchor_lon: lon, anchor_lat: lat } = survey.outlines;
    if (!layers[row]) {
      plotmap.byId("find-note").textContent = "This compartment has no outline.";
      return;
    }
    closePanel();
    map.invalidateSize({ animate: false });
    map.fitBounds(layers[row].getBounds(), { padding: [40, 40], maxZoom: CLOSE_UP, animate: false });
    openPopup(map, plotmap.compartmentPopup(survey, row), [lat[row] / survey.survey.degree, lon[row] / survey.survey.degree], layers[row], back);
  }

  async function build(map) {
    const survey = await plotmap.unpack();
    survey.theme = survey.themes[0];
    survey.classRows = plotmap.rowsByCompartment(survey.size_classes.compartment);
    survey.speciesRows = plotmap.rowsByCompartment(survey.species.compartment);
    const kinds = survey.plots.plot.map((_, row) => plotmap.plotKind(survey.plots, row));
    const renderer = new plotmap.PlotmapCanvas({ padding: 0.3 });
    map.setView([0, 0], 2);
    const { group, layers } = plotmap.addCompartments(map, survey, renderer, (row, latlng, layer) => openPopup(map, plotmap.compartmentPopup(survey, row), latlng, layer));
    const fit = () => {
      if (group.getLayers().length) map.fitBounds(group.getBounds(), { padding: [30, 30], animate: false });
    };
    fit();
    map.setMinZoom(Math.floor(map.getZoom()) - 1);
    const choose = (theme) => {
      survey.theme = theme;
      plotmap.paint(survey, layers);
      plotmap.showLegend(survey, theme);
    };
    choose(survey.theme);
    plotmap.setUpThemes(survey, choose);
    plotmap.showPlotsLegend(survey.plots, kinds);
    plotmap.addPlots(map, survey, renderer, kinds, (row, latlng) => openPopup(map, plotmap.plotPopup(survey, row), latlng));
    const open = (row, back) => goTo(map, survey, layers, row, back);
    plotmap.setUpFind(survey, open);
    plotmap.setUpTable(survey, open);
    plotmap.showHeadline(survey);
    plotmap.showTotal(survey);
    plotmap.showAbout(survey, kinds.length + survey.plots.without_position);
    plotmap.addControls(map, fit);
    plotmap.setUpPanel(map);
    window.addEventListener("beforeprint", () => {
      map.closePopup();
      map.invalidateSize({ animate: false });
    });
  }

  plotmap.start = function (map) {
    build(map).then(
      () => document.documentElement.setAttribute("data-ready", "yes"),
      (error) => {
        plotmap.byId("subtitle").textContent = `The map cannot be shown (${error.message}). It needs a browser of 2023 or later.`;
        plotmap.byId("subtitle").setAttribute("role", "alert");
      },
    );
  };
})(window.plotmap);
