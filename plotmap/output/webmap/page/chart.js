"use strict";
/* Stems per hectare by size class, with error bars, as a picture in the page. */
(function (plotmap) {
  const WIDTH = 340;
  const LEFT = 44;
  const TOP = 10;
  const BARS = 104;
  const LETTERS = 10.5; /* size of the letters of a label, in px */
  const APART = 4; /* room between two labels, in px */

  function ticks(high) {
    const power = 10 ** Math.floor(Math.log10(high / 3));
    const step = [1, 2, 2.5, 5, 10].map((part) => part * power).find((width) => high / width <= 4);
    return Array.from({ length: Math.ceil(high / step - 1e-9) + 1 }, (_, number) => Number((number * step).toPrecision(6)));
  }

  function bar(entry, x, width, y) {
    const parts = [plotmap.draw("rect", { class: "bar", x: x, y: y(entry.value), width: width, height: y(0) - y(entry.value) })];
    if (entry.low !== null && entry.low < entry.high) {
      const middle = x + width / 2;
      const cap = Math.min(4, width / 3);
      const path = `M${middle} ${y(entry.low)}V${y(entry.high)}M${middle - cap} ${y(entry.low)}h${2 * cap}M${middle - cap} ${y(entry.high)}h${2 * cap}`;
      parts.push(plotmap.draw("path", { class: "error-halo", d: path }), plotmap.draw("path", { class: "error", d: path }));
    }
    return parts;
  }

  function scale(entries, y) {
    const top = Math.max(...entries.map((entry) => Math.max(entry.value, entry.high === null ? 0 : entry.high)), 1e-9);
    const marks = ticks(top);
    const last = marks[marks.length - 1];
    y.to = (value) => TOP + BARS * (1 - value / last);
    return marks.flatMap((mark) => [
      plotmap.draw("line", { class: "grid", x1: LEFT, x2: WIDTH - 4, y1: y.to(mark), y2: y.to(mark) }),
      plotmap.draw("text", { class: "tick", x: LEFT - 5, y: y.to(mark) + 3.5, "text-anchor": "end" }, String(mark)),
    ]);
  }

  /* Width of a text of the chart, in its own px. */
  function textWidth(text) {
    const context = document.createElement("canvas").getContext("2d");
    context.font = `${LETTERS}px ${getComputedStyle(document.body).fontFamily}`;
    return context.measureText(text).width;
  }

  /* Labels below the bars: whole classes where they fit side by side, else the edge that belongs to each, and
     every second or third of these where even they do not fit. */
  function labels(entries, band) {
    const fits = (texts, bands) => Math.max(...texts.map(textWidth)) <= band * bands - APART;
    const whole = fits(entries.map((entry) => entry.label), 1);
    const texts = entries.map((entry) => (whole ? entry.label : entry.short));
    let every = 1;
    while (!fits(texts, every)) every += 1;
    const drawn = texts.map((text, number) =>
      number % every ? null : plotmap.draw("text", { class: "tick", x: LEFT + band * (number + 0.5), y: TOP + BARS + 14, "text-anchor": "middle" }, text),
    );
    return { drawn: drawn.filter(Boolean), whole: whole };
  }

  /* entries: label, value, low, high (stems/ha), null limits where there is no error; class_measure: diameter
     or girth; class_edge: the edge that belongs to the class, lower or upper. */
  plotmap.chart = function (entries, { class_measure: measure, class_edge: edge }, name) {
    const band = (WIDTH - LEFT - 4) / entries.length;
    const width = Math.min(band * 0.72, 42);
    const y = {};
    const grid = scale(entries, y);
    const bars = entries.flatMap((entry, number) => bar(entry, LEFT + band * (number + 0.5) - width / 2, width, y.to));
    const words = { measure: plotmap.sayOr("measure", measure), edge: plotmap.sayOr("edge", edge) };
    const below = labels(entries, band);
    const height = TOP + BARS + 34;
    const middle = TOP + BARS / 2;
    const said = entries.map((entry) => `${entry.label} cm: ${entry.value}`).join("; ");
    return plotmap.draw(
      "svg",
      { class: "chart", viewBox: `0 0 ${WIDTH} ${height}`, role: "img", "aria-label": plotmap.say("chart_said", { measure: words.measure, name: name, classes: said }) },
      ...grid,
      ...bars,
      ...below.drawn,
      plotmap.draw("text", { class: "axis", x: 0, y: 0, transform: `translate(11 ${middle}) rotate(-90)`, "text-anchor": "middle" }, plotmap.say("chart_stems")),
      plotmap.draw("text", { class: "axis", x: LEFT + (WIDTH - LEFT) / 2, y: height - 4, "text-anchor": "middle" }, plotmap.say(below.whole ? "chart_classes" : "chart_edges", words)),
    );
  };
})(window.plotmap);
