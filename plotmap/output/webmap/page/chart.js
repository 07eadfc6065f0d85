"use strict";
/* Stems per hectare by size class, with error bars, as a picture in the page. */
(function (plotmap) {
  const WIDTH = 340;
  const LEFT = 44;
  const TOP = 10;
  const BARS = 104;
  const LETTER = 5.4; /* mean width of a letter of a label, in px */

  function ticks(high) {
    const power = 10 ** Math.floor(Math.log10(high / 3));
    const step = [1, 2, 2.5, 5, 10].map((part) => part * power).find((width) => high / width <= 4);
    return Array.from({ length: Math.ceil(high / step - 1e-9) + 1 }, (_, number) => Number((number * step).toPrecision(6)));
  }

  function bar(entry, x, width, y) {
    const parts = [plotmap.draw("rect", { class: "bar", x: x, y: y(entry.value), width: width, height: y(0) - y(entry.value) })];
    if (entry.low !== null && entry.high !== null) {
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

  function labels(entries, band) {
    const longest = Math.max(...entries.map((entry) => entry.label.length)) * LETTER;
    const turned = longest > band - 2;
    const every = Math.max(1, Math.ceil(11 / band));
    const base = TOP + BARS + (turned ? 10 : 14);
    const drawn = entries.map((entry, number) => {
      if (number % every) return null;
      const x = LEFT + band * (number + 0.5) + (turned ? 3 : 0);
      const turn = turned ? { transform: `rotate(-45 ${x} ${base})`, "text-anchor": "end" } : { "text-anchor": "middle" };
      return plotmap.draw("text", { class: "tick", x: x, y: base, ...turn }, entry.label);
    });
    return { drawn: drawn, height: turned ? longest * 0.72 + 20 : 18 };
  }

  /* entries: label, value, low, high (stems/ha), null limits where there is no error; measure: diameter or girth. */
  plotmap.chart = function (entries, measure, name) {
    const band = (WIDTH - LEFT - 4) / entries.length;
    const width = Math.min(band * 0.72, 42);
    const y = {};
    const grid = scale(entries, y);
    const bars = entries.flatMap((entry, number) => bar(entry, LEFT + band * (number + 0.5) - width / 2, width, y.to));
    const below = labels(entries, band);
    const height = TOP + BARS + below.height + 16;
    const middle = TOP + BARS / 2;
    const said = entries.map((entry) => `${entry.label} cm: ${entry.value}`).join("; ");
    return plotmap.draw(
      "svg",
      { class: "chart", viewBox: `0 0 ${WIDTH} ${height}`, role: "img", "aria-label": `Stems per hectare by ${measure} class in ${name}. ${said}` },
      ...grid,
      ...bars,
      ...below.drawn.filter(Boolean),
      plotmap.draw("text", { class: "axis", x: 0, y: 0, transform: `translate(11 ${middle}) rotate(-90)`, "text-anchor": "middle" }, "stems, 1/ha"),
      plotmap.draw("text", { class: "axis", x: LEFT + (WIDTH - LEFT) / 2, y: height - 4, "text-anchor": "middle" }, `${measure} class, cm`),
    );
  };
})(window.plotmap);
