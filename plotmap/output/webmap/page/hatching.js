"use strict";
/* Hatched fills and marks of several shapes, on the map and in the legend. */
(function (plotmap) {
  const SHARP = 2; /* patterns are drawn at twice their size and scaled down, for fine screens */
  const LINES = {
    rising: { size: 13, lines: [[-4, 4, 4, -4], [0, 13, 13, 0], [9, 17, 17, 9]], halo: true },
    falling: { size: 13, lines: [[-4, 9, 4, 17], [0, 0, 13, 13], [9, -4, 17, 4]], halo: true },
    crossed: { size: 9, lines: [[0, 0, 9, 9], [0, 9, 9, 0]], halo: false },
  };
  const patterns = new Map();

  function strokes(context, lines, colour, width) {
    context.strokeStyle = colour;
    context.lineWidth = width;
    context.beginPath();
    for (const [x1, y1, x2, y2] of lines) {
      context.moveTo(x1, y1);
      context.lineTo(x2, y2);
    }
    context.stroke();
  }

  function pattern(context, name) {
    if (!patterns.has(name)) {
      const { size, lines, halo } = LINES[name];
      const tile = document.createElement("canvas");
      tile.width = tile.height = size * SHARP;
      const tileContext = tile.getContext("2d");
      tileContext.scale(SHARP, SHARP);
      tileContext.lineCap = "square";
      if (halo) strokes(tileContext, lines, "rgba(255,255,255,0.85)", 3.4);
      strokes(tileContext, lines, halo ? "#26302b" : "#6e716a", halo ? 1.3 : 1);
      const made = context.createPattern(tile, "repeat");
      made.setTransform(new DOMMatrix().scale(1 / SHARP));
      patterns.set(name, made);
    }
    return patterns.get(name);
  }

  /* Outlines of the marks round (x, y); r is half their width. */
  const SHAPES = {
    circle: (context, x, y, r) => context.arc(x, y, r, 0, 2 * Math.PI),
    square: (context, x, y, r) => context.rect(x - r * 0.9, y - r * 0.9, r * 1.8, r * 1.8),
    triangle: (context, x, y, r) => {
      context.moveTo(x, y - r * 1.2);
      context.lineTo(x + r * 1.15, y + r * 0.85);
      context.lineTo(x - r * 1.15, y + r * 0.85);
      context.closePath();
    },
    diamond: (context, x, y, r) => {
      context.moveTo(x, y - r);
      context.lineTo(x + r, y);
      context.lineTo(x, y + r);
      context.lineTo(x - r, y);
      context.closePath();
    },
    cross: (context, x, y, r) => {
      context.moveTo(x - r, y - r);
      context.lineTo(x + r, y + r);
      context.moveTo(x + r, y - r);
      context.lineTo(x - r, y + r);
    },
  };

  function ring(context, style, x, y, r) {
    for (const [colour, width] of [["#ffffff", style.weight + 4], [style.color, style.weight]]) {
      context.beginPath();
      context.arc(x, y, r, 0, 2 * Math.PI);
      context.strokeStyle = colour;
      context.lineWidth = width;
      context.stroke();
    }
  }

  function mark(context, style, x, y, r) {
    context.globalAlpha = 1;
    context.setLineDash([]);
    if (style.shape === "ring") {
      ring(context, style, x, y, r);
      return;
    }
    context.lineJoin = "round";
    context.beginPath();
    SHAPES[style.shape](context, x, y, r);
    if (r > 2) {
      context.strokeStyle = "#ffffff";
      context.lineWidth = r > 3 ? 4 : 3;
      context.stroke();
    }
    if (style.fillColor !== "none") {
      context.fillStyle = style.fillColor;
      context.fill();
    }
    context.strokeStyle = style.color;
    context.lineWidth = r > 3 ? 1.8 : 1;
    context.stroke();
  }

  plotmap.hatchPattern = pattern;
  plotmap.mark = mark;

  function sample(width, height, paint) {
    const canvas = plotmap.make("canvas", { class: "sample", width: width * SHARP, height: height * SHARP, "aria-hidden": "true" });
    canvas.style.width = `${width}px`;
    canvas.style.height = `${height}px`;
    const context = canvas.getContext("2d");
    context.scale(SHARP, SHARP);
    paint(context);
    return canvas;
  }

  /* A piece of the map for the legend. */
  plotmap.swatch = (style) =>
    sample(30, 20, (context) => {
      context.beginPath();
      context.rect(1, 1, 28, 18);
      context.fillStyle = style.fillColor;
      context.fill();
      if (style.hatch) {
        context.fillStyle = pattern(context, style.hatch);
        context.fill();
      }
      context.setLineDash(style.dashArray ? [4, 3] : []);
      context.strokeStyle = style.color;
      context.lineWidth = 1;
      context.stroke();
    });

  plotmap.markSample = (style) => sample(30, 18, (context) => mark(context, style, 15, 9, 5));
})(window.plotmap);
