"use strict";
/* Put the page together. */
(function (plotmap) {
  const NARROW = 640;
  const CLOSE_UP = 17;
  const BESIDE = 0.6; /* part of a compartment's extent that is shown on each side of it */

  function closePanel() {
    if (window.innerWidth <= NARROW && plotmap.byId("app").classList.contains("panel-open")) plotmap.byId("panel-toggle").click();
  }

  /* Ways to open the card: by a click on the map, or, with the map moved there, from the search, the table or another card. */
  function ways(map, survey, card, drawn) {
    const compartment = (row, back) => {
      const bounds = drawn.compartments.bounds(row);
      const content = plotmap.compartmentSheet(survey, row);
      card.open(content, bounds ? { mark: drawn.compartments.outline(row), bounds: bounds, row: row, back: back } : { row: row, back: back });
    };
    const plot = (row, back) => {
      const place = L.latLng(drawn.place(row));
      const content = plotmap.plotSheet(survey, row, place, (home, button) => goToCompartment(home, button));
      card.open(content, { mark: plotmap.ring(place, drawn.renderer), bounds: L.latLngBounds([place]), back: back });
    };
    const move = (bounds) => {
      closePanel();
      map.invalidateSize({ animate: false });
      map.fitBounds(bounds, { maxZoom: CLOSE_UP, animate: false });
    };
    const goToCompartment = (row, back) => {
      const bounds = drawn.compartments.bounds(row);
      closePanel();
      compartment(row, back);
      if (bounds) move(bounds.pad(BESIDE));
      else plotmap.byId("find-note").textContent = plotmap.say("no_outline");
    };
    const goToPlot = (row, back) => {
      const bounds = drawn.compartments.bounds(survey.plots.compartment[row]);
      const here = L.latLngBounds([drawn.place(row)]);
      closePanel();
      drawn.showPlots();
      plot(row, back);
      move(bounds ? here.extend(bounds.pad(BESIDE / 2)) : here);
    };
    return { compartment: compartment, plot: plot, goTo: { compartment: goToCompartment, plot: goToPlot } };
  }

  async function build(map) {
    const survey = await plotmap.unpack();
    plotmap.words = survey.words;
    plotmap.tableWords = survey.table_words;
    survey.theme = survey.themes[0];
    survey.classRows = plotmap.rowsByCompartment(() => survey.size_classes.compartment);
    survey.speciesRows = plotmap.rowsByCompartment(() => survey.species.compartment);
    survey.total.hasCounts = survey.compartments.status.includes("full count");
    const kinds = survey.plots.plot.map((_, row) => plotmap.plotKind(survey.plots, row));
    const plots = plotmap.unpackPlaces(survey.plots, survey.survey.degree);
    const drawn = { renderer: new plotmap.PlotmapCanvas({ padding: 0.3 }), plots: plots, place: (row) => [plots.lat[row], plots.lon[row]] };
    drawn.renderer.painters = [];
    drawn.compartments = plotmap.addCompartments(map, survey, drawn.renderer, (row) => open.compartment(row));
    const { whole } = drawn.compartments;
    const fit = () => {
      if (whole.isValid()) map.fitBounds(whole, { padding: [30, 30], animate: false });
    };
    map.setView([0, 0], 2);
    fit();
    drawn.renderer.addTo(map);
    map.setMinZoom(Math.floor(map.getZoom()) - 2);
    const choose = (theme) => {
      survey.theme = theme;
      drawn.compartments.repaint();
      plotmap.showLegend(survey, theme);
    };
    plotmap.setUpThemes(survey, choose);
    choose(survey.theme);
    plotmap.showPlotsLegend(survey.plots, kinds);
    const numbers = plotmap.setUpNumbers(map, survey, drawn);
    const card = plotmap.setUpCard(map, (row) => {
      numbers.chosen = row;
      numbers.redraw();
    });
    const open = ways(map, survey, card, drawn);
    const layer = plotmap.addPlots(map, drawn, kinds, {
      open: (row) => open.plot(row),
      toggled: (shown) => {
        numbers.avoidPlots = shown;
        numbers.redraw();
      },
    });
    drawn.showPlots = layer.show;
    drawn.circles = layer.circles;
    const findings = plotmap.setUpFindings(map, survey, drawn, card, open.goTo);
    plotmap.setUpExtras(map, survey);
    plotmap.setUpBackground(map, survey);
    plotmap.setUpFind(survey, open.goTo);
    plotmap.setUpTable(survey, open.goTo.compartment);
    plotmap.showHeadline(survey);
    plotmap.showTotal(survey);
    plotmap.showAbout(survey, kinds.length + survey.plots.without_position);
    plotmap.addControls(map, fit);
    plotmap.setUpWhere(map, survey, whole);
    plotmap.setUpPointer(map, survey);
    plotmap.setUpWalk(map, survey, card, open.goTo);
    plotmap.setUpPanel(map);
    plotmap.setUpPrint(map, survey, drawn.renderer, whole);
  }

  plotmap.start = function (map) {
    build(map).then(
      () => document.documentElement.setAttribute("data-ready", "yes"),
      (error) => {
        plotmap.byId("subtitle").textContent = plotmap.byId("subtitle").dataset.trouble.replace("{reason}", error.message);
        plotmap.byId("subtitle").setAttribute("role", "alert");
      },
    );
  };
})(window.plotmap);
