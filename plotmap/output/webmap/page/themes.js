"use strict";
/* What compartments can be coloured by, and which of it is shown; the share of a species is put into classes here. */
(function (plotmap) {
  const make = plotmap.make;
  const NO_VALUE = -1;
  const UNKNOWN = -2;
  plotmap.SHARE = "basal_area_share_pct";

  /* Share of a species in each compartment in per cent: 0 where plots have none of it, null without basal area. */
  function shares(survey, species) {
    const { compartments, species: table } = survey;
    const found = compartments.basal_area_m2_per_ha.map((value, row) => (value === null || value === 0 || compartments.status[row] === "no plots" ? null : 0));
    table.species.forEach((number, entry) => {
      const home = table.compartment[entry];
      if (number === species && home >= 0) found[home] = found[home] === null ? null : table[plotmap.SHARE][entry];
    });
    return found;
  }

  /* Gives the theme of shares the values, classes and counts of one species. */
  plotmap.chooseSpecies = function (survey, theme, species) {
    theme.species = species;
    theme.values = shares(survey, species);
    theme.classes = theme.values.map((value, row) => {
      if (survey.compartments.status[row] === "no plots") return UNKNOWN;
      return value === null ? NO_VALUE : theme.edges.filter((edge) => value >= edge).length - 1;
    });
    theme.counts = theme.labels.map((_, number) => theme.classes.reduce((sum, entry) => sum + (entry === number), 0));
  };

  const isShare = (theme) => theme.column === plotmap.SHARE;
  plotmap.themeField = (survey, theme) => (isShare(theme) ? survey.fields.species : survey.fields.compartments)[theme.column];
  plotmap.themeValue = (survey, theme, row) => (isShare(theme) ? theme.values : survey.compartments[theme.column])[row];
  plotmap.themeHeading = function (survey, theme) {
    if (!isShare(theme)) return plotmap.heading(plotmap.themeField(survey, theme));
    return plotmap.say("share_heading", { species: survey.species.words[theme.species] });
  };
  plotmap.missingLabel = (theme) => plotmap.say(`missing_${theme.column}`);

  /* Number and name, and value of the theme shown. */
  plotmap.hoverText = function (survey, row) {
    const { theme } = survey;
    const value = plotmap.themeValue(survey, theme, row);
    const name = plotmap.fullName(survey, row);
    const said = (text) => plotmap.say("hover", { name: name, value: text });
    if (theme.classes[row] === UNKNOWN) return said(plotmap.say("hover_no_plots"));
    if (value === null) return said(survey.hatches[row] === 1 && theme.column === "sampling_error_pct" ? plotmap.say("hover_one_plot") : plotmap.missingLabel(theme));
    const shown = plotmap.withUnit(value, plotmap.themeField(survey, theme));
    return said(isShare(theme) ? `${survey.species.words[theme.species]} ${shown}` : shown);
  };

  /* The list of species, the one with the most basal area first. */
  function speciesList(survey, theme, choose) {
    const options = survey.species.words.map((word, number) => make("option", { value: number }, word));
    const list = make("select", { id: "species", "aria-label": plotmap.say("species_label") }, ...options);
    list.value = String(survey.species.first);
    list.addEventListener("change", () => {
      plotmap.chooseSpecies(survey, theme, Number(list.value));
      plotmap.byId(`theme-${theme.column}`).checked = true;
      choose(theme);
    });
    return list;
  }

  plotmap.setUpThemes = function (survey, choose) {
    const share = survey.themes.find(isShare);
    if (survey.species.words.length) plotmap.chooseSpecies(survey, share, survey.species.first);
    const offered = survey.themes.filter((theme) => !isShare(theme) || survey.species.words.length);
    const choices = offered.map((theme, number) => {
      const field = plotmap.themeField(survey, theme);
      const input = make("input", { type: "radio", name: "theme", id: `theme-${theme.column}`, value: theme.column });
      input.checked = number === 0;
      input.addEventListener("change", () => choose(theme));
      const title = isShare(theme) ? plotmap.say("share_title") : field.title;
      const label = make("label", { class: "check" }, input, make("span", {}, title), make("span", { class: "unit" }, ` ${field.unit}`));
      return isShare(theme) ? make("div", { class: "check-with" }, label, speciesList(survey, theme, choose)) : label;
    });
    plotmap.byId("themes").append(...choices);
  };
})(window.plotmap);
