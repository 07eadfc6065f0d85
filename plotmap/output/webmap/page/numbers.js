"use strict";
/* Numbers of the compartments on one canvas above the map: those in view that fit inside their outline. */
(function (plotmap) {
  const SIZES = [13, 11]; /* px, the larger where it fits */
  const AROUND = 0.25; /* part of the map that is drawn beyond each side, for dragging */
  const EARTH = 2 * Math.PI * 6378137; /* m, equator of the plane the map is drawn on */
  const MARK = 7; /* room a plot takes round its middle, in px */
  const INK = "#111511";

  const apart = (one, other) =>
    Math.abs(one.x - other.x) * 2 >= one.width + other.width || Math.abs(one.y - other.y) * 2 >= one.height + other.height;

  /* Middles to try: the middle of the circle, then eight places half and all the way to where the text still fits. */
  function places(middle, slack) {
    const steps = [0.5, 1].flatMap((part) => [2, 6, 0, 4, 1, 3, 5, 7].map((turn) => [part * slack, (turn * Math.PI) / 4]));
    return [middle, ...steps.map(([length, angle]) => middle.add([length * Math.cos(angle), length * Math.sin(angle)]))];
  }

  plotmap.Numbers = L.Layer.extend({
    initialize(survey, drawn) {
      const { outlines } = survey;
      const { degree } = survey.survey;
      this.shown = true;
      this.chosen = null;
      this.avoidPlots = false;
      this._texts = survey.compartments.compartment;
      this._anchors = outlines.anchor_lat.map((lat, row) => (lat === null ? null : L.latLng(lat / degree, outlines.anchor_lon[row] / degree)));
      this._room = outlines.room;
      this._order = [...this._room.keys()].filter((row) => this._room[row] !== null).sort((one, other) => this._room[other] - this._room[one]);
      this._drawn = drawn;
      this._plotsOf = plotmap.rowsByCompartment(() => survey.plots.compartment);
    },
    onAdd(map) {
      const pane = map.getPane("numbers") || map.createPane("numbers");
      pane.style.zIndex = 450;
      pane.style.pointerEvents = "none";
      this._canvas = plotmap.make("canvas", { class: "numbers", "aria-hidden": "true" });
      this._font = getComputedStyle(map.getContainer()).fontFamily;
      pane.append(this._canvas);
      this.redraw();
    },
    onRemove() {
      this._canvas.remove();
    },
    getEvents() {
      return { zoom: this._clear, moveend: this.redraw, resize: this.redraw };
    },
    _clear() {
      this._canvas.width = 0;
    },
    _start() {
      const size = this._map.getSize();
      const around = size.multiplyBy(AROUND).round();
      const all = size.add(around.multiplyBy(2));
      this._corner = this._map.containerPointToLayerPoint(around.multiplyBy(-1)).round();
      L.DomUtil.setPosition(this._canvas, this._corner);
      const sharp = window.devicePixelRatio || 1;
      this._canvas.width = Math.round(all.x * sharp);
      this._canvas.height = Math.round(all.y * sharp);
      this._canvas.style.width = `${all.x}px`;
      this._canvas.style.height = `${all.y}px`;
      this._size = all;
      const context = this._canvas.getContext("2d");
      context.scale(sharp, sharp);
      context.textAlign = "center";
      context.textBaseline = "middle";
      context.lineJoin = "round";
      return context;
    },
    _at(place) {
      return this._map.latLngToLayerPoint(place).subtract(this._corner);
    },
    _box(context, row, size) {
      context.font = `650 ${size}px ${this._font}`;
      return { size: size, width: context.measureText(this._texts[row]).width + 4, height: size + 2 };
    },
    /* Where the text of a compartment goes, or null where it does not fit. */
    _place(context, row, room, taken) {
      const middle = this._at(this._anchors[row]);
      if (middle.x < 0 || middle.y < 0 || middle.x > this._size.x || middle.y > this._size.y) return null;
      const fits = SIZES.map((size) => this._box(context, row, size)).find((box) => Math.hypot(box.width, box.height) / 2 <= room);
      if (!fits) return null;
      const plots = this.avoidPlots ? (this._plotsOf.get(row) || []).map((plot) => ({ ...this._at(this._drawn.place(plot)), width: MARK * 2, height: MARK * 2 })) : [];
      const boxes = places(middle, room - Math.hypot(fits.width, fits.height) / 2).map((place) => ({ ...fits, x: place.x, y: place.y }));
      const free = boxes.filter((box) => taken.every((other) => apart(box, other)));
      return free.find((box) => plots.every((plot) => apart(box, plot))) || free[0] || null;
    },
    redraw() {
      if (!this._map) return;
      const context = this._start();
      const scale = (256 * 2 ** this._map.getZoom()) / EARTH;
      const taken = this.chosen === null || !this._anchors[this.chosen] ? [] : [this._drawChosen(context)];
      if (!this.shown) return;
      for (const { x, y, radius } of this._drawn.circles ? this._drawn.circles() : []) taken.push({ ...this._at(plotmap.placeOf(x, y)), width: 2 * radius, height: 2 * radius });
      for (const row of this._order) {
        const room = this._room[row] * scale;
        if (room < SIZES[SIZES.length - 1] / 2) break;
        const box = row === this.chosen ? null : this._place(context, row, room, taken);
        if (!box) continue;
        taken.push(box);
        context.font = `650 ${box.size}px ${this._font}`;
        context.strokeStyle = "rgba(255,255,255,0.92)";
        context.lineWidth = 3.6;
        context.strokeText(this._texts[row], box.x, box.y);
        context.fillStyle = INK;
        context.fillText(this._texts[row], box.x, box.y);
      }
    },
    /* The compartment whose card is open: white on dark, as its number is in the card, whatever the zoom. */
    _drawChosen(context) {
      const middle = this._at(this._anchors[this.chosen]);
      const box = this._box(context, this.chosen, SIZES[0]);
      const [width, height] = [box.width + 10, box.height + 8];
      context.beginPath();
      context.roundRect(middle.x - width / 2, middle.y - height / 2, width, height, 5);
      context.strokeStyle = "#ffffff";
      context.lineWidth = 3;
      context.stroke();
      context.fillStyle = INK;
      context.fill();
      context.fillStyle = "#ffffff";
      context.fillText(this._texts[this.chosen], middle.x, middle.y);
      return { x: middle.x, y: middle.y, width: width + 4, height: height + 4 };
    },
  });

  plotmap.setUpNumbers = function (map, survey, drawn) {
    const numbers = new plotmap.Numbers(survey, drawn);
    const box = plotmap.byId("numbers-toggle");
    box.checked = true;
    box.addEventListener("change", () => {
      numbers.shown = box.checked;
      numbers.redraw();
    });
    return numbers.addTo(map);
  };
})(window.plotmap);
