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
      const layer = drawn.layers[row];
      const content = plotmap.compartmentSheet(survey, row);
      card.open(content, layer ? { mark: plotmap.strongOutline(layer), bounds: layer.getBounds(), row: row, back: back } : { row: row, back: back });
    };
    const plot = (row, back) => {
      const place = L.latLng(drawn.places[row]);
      const content = plotmap.plotSheet(survey, row, place, (home, button) => goToCompartment(home, button));
      card.open(content, { mark: plotmap.ring(place, drawn.renderer), bounds: L.latLngBounds([place]), back: back });
    };
    const move = (bounds) => {
      closePanel();
      map.invalidateSize({ animate: false });
      map.fitBounds(bounds, { maxZoom: CLOSE_UP, animate: false });
    };
    const goToCompartment = (row, back) => {
      const layer = drawn.layers[row];
      closePanel();
      compartment(row, back);
      if (layer) move(layer.getBounds().pad(BESIDE));
      else plotmap.byId("find-note").textContent = plotmap.say("no_outline");
    };
    const goToPlot = (row, back) => {
      const layer = drawn.layers[survey.plots.compartment[row]];
      const here = L.latLngBounds([drawn.places[row]]);
      closePanel();
      drawn.showPlots();
      plot(row, back);
      move(layer ? here.extend(layer.getBounds().pad(BESIDE / 2)) : here);
    };
    return { compartment: compartment, plot: plot, goTo: { compartment: goToCompartment, plot: goToPlot } };
  }

  async function build(map) {
    const survey = await plotmap.unpack();
    plotmap.words = survey.words;
    plotmap.tableWords = survey.table_words;
    survey.theme = survey.themes[0];
    survey.classRows = plotmap.rowsByCompartment(survey.size_classes.compartment);
    survey.speciesRows = plotmap.rowsByCompartment(survey.species.compartment);
    const grid = survey.plots.position;
    if (grid) Object.assign(grid, { eastings: plotmap.unpackSteps(grid.x), northings: plotmap.unpackSteps(grid.y) });
    survey.total.hasCounts = survey.compartments.status.includes("full count");
    const kinds = survey.plots.plot.map((_, row) => plotmap.plotKind(survey.plots, row));
    const drawn = { renderer: new plotmap.PlotmapCanvas({ padding: 0.3 }), places: plotmap.unpackPoints(survey.plots, survey.survey.degree) };
    map.setView([0, 0], 2);
    const { group, layers } = plotmap.addCompartments(map, survey, drawn.renderer, (row) => open.compartment(row));
    drawn.layers = layers;
    const fit = () => {
      if (group.getLayers().length) map.fitBounds(group.getBounds(), { padding: [30, 30], animate: false });
    };
    fit();
    map.setMinZoom(Math.floor(map.getZoom()) - 2);
    const choose = (theme) => {
      survey.theme = theme;
      plotmap.paint(survey, layers);
      plotmap.showLegend(survey, theme);
    };
    plotmap.setUpThemes(survey, choose);
    choose(survey.theme);
    plotmap.showPlotsLegend(survey.plots, kinds);
    const numbers = plotmap.setUpNumbers(map, survey);
    const card = plotmap.setUpCard(map, (row) => {
      numbers.chosen = row;
      numbers.redraw();
    });
    const open = ways(map, survey, card, drawn);
    drawn.showPlots = plotmap.addPlots(map, survey, drawn, kinds, {
      open: (row) => open.plot(row),
      toggled: (shown) => {
        if (drawn.raiseFindings) drawn.raiseFindings();
        numbers.avoidPlots = shown;
        numbers.redraw();
      },
    });
    const findings = plotmap.setUpFindings(map, survey, drawn, card, open.goTo);
    drawn.raiseFindings = findings.raise;
    plotmap.setUpExtras(map, survey);
    plotmap.setUpBackground(map, survey);
    plotmap.setUpFind(survey, open.goTo);
    plotmap.setUpTable(survey, open.goTo.compartment);
    plotmap.showHeadline(survey);
    plotmap.showTotal(survey);
    plotmap.showAbout(survey, kinds.length + survey.plots.without_position);
    plotmap.addControls(map, fit);
    plotmap.setUpWhere(map, survey, group.getBounds());
    plotmap.setUpPointer(map, survey);
    plotmap.setUpWalk(map, survey, card, open.goTo);
    plotmap.setUpPanel(map);
    plotmap.setUpPrint(map, survey, drawn.renderer, group.getBounds());
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
