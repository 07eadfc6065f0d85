"use strict";
/* Words that people read: all of them come with the data, in the language of the survey. */
(function (plotmap) {
  plotmap.words = {};
  plotmap.tableWords = {};
  const PLACE = /\{(\w+)\}/g;

  function text(key) {
    if (!Object.hasOwn(plotmap.words, key)) throw new Error(`there is no word for ${key}`);
    return plotmap.words[key];
  }

  /* A text of the catalogue with values put in for {name}. */
  plotmap.say = (key, values) => text(key).replace(PLACE, (whole, name) => (values && Object.hasOwn(values, name) ? values[name] : whole));

  const keyOf = (word) => String(word).toLowerCase().replace(/[ -]/g, "_");
  const either = (words, key, word) => (Object.hasOwn(words, key) ? words[key] : word);

  /* The text of one of several words of a kind, as the axis "Easting", or the word itself where there is none. */
  plotmap.sayOr = (kind, word) => either(plotmap.words, `${kind}_${keyOf(word)}`, word);

  /* The text of a word of the tables, as "no plots", or the word itself where the catalogue has none. */
  plotmap.tableWord = (word) => either(plotmap.tableWords, keyOf(word), word);

  /* A number and what is counted, in the singular or the plural. */
  plotmap.count = (number, key) => plotmap.say(`${key}_${number === 1 ? "one" : "many"}`, { n: plotmap.number(number, { decimals: 0, unit: "" }) });

  /* A text as a list of texts and elements, the elements put in for {name}. */
  plotmap.sayWith = function (key, elements) {
    const parts = text(key).split(PLACE); /* texts at even places, names at odd ones */
    return parts.map((part, number) => (number % 2 ? elements[part] : part)).filter((part) => part !== "");
  };
})(window.plotmap);
