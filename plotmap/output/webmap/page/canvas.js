"use strict";
/* One canvas for the map: what there is much of is drawn by painters, single layers of Leaflet come above it. */
(function (plotmap) {
  /* A painter has draw(context, view), where view tells what to draw: x and y of the plane times scale less left
     and top are pixels; from and to are the corners wanted; whole is false where only a part is drawn again.
     It may have pick(x, y), which gives what is at a place of the plane or null, and click(found).
     The painter above comes last. */
  plotmap.PlotmapCanvas = L.Canvas.extend({
    painters: [],
    hovered: null, /* called with what is under the pointer, or null, and the event */

    _updateCircle(layer) {
      if (!this._drawing || layer._empty()) return;
      plotmap.mark(this._ctx, layer.options, layer._point.x, layer._point.y, layer._radius);
    },

    view(bounds) {
      const origin = this._map.getPixelOrigin();
      const scale = this._map.options.crs.scale(this._map.getZoom());
      const area = bounds || this._bounds;
      return { scale: scale, left: origin.x, top: origin.y, from: area.min, to: area.max, whole: !bounds };
    },

    _draw() {
      const bounds = this._redrawBounds;
      if (this.painters.length && this._bounds) {
        const context = this._ctx;
        context.save();
        if (bounds) {
          const size = bounds.getSize();
          context.beginPath();
          context.rect(bounds.min.x, bounds.min.y, size.x, size.y);
          context.clip();
        }
        for (const painter of this.painters) painter.draw(context, this.view(bounds));
        context.restore();
      }
      L.Canvas.prototype._draw.call(this);
    },

    /* Draw everything again, before the next frame. */
    redrawAll() {
      if (!this._map) return;
      this._redrawBounds = null;
      this._wholeAgain = true;
      this._redrawRequest = this._redrawRequest || L.Util.requestAnimFrame(this._redraw, this);
    },

    /* Draw a part again: corners in layer pixels. */
    redrawPart(from, to) {
      if (this._map && !this._wholeAgain) this._requestRedraw({ _map: this._map, _pxBounds: L.bounds(from, to), options: { weight: 4 } });
    },

    _redraw() {
      if (this._wholeAgain) this._redrawBounds = null;
      this._wholeAgain = false;
      L.Canvas.prototype._redraw.call(this);
    },

    /* What is under the pointer: the painter and what it found. */
    _picked(event) {
      const point = this._map.mouseEventToLayerPoint(event);
      const { scale, left, top } = this.view(null);
      const [x, y] = [(point.x + left) / scale, (point.y + top) / scale];
      for (const painter of [...this.painters].reverse()) {
        const found = painter.pick ? painter.pick(x, y, scale) : null;
        if (found !== null) return { painter: painter, found: found };
      }
      return null;
    },

    _fireEvent(layers, event, type) {
      const kind = type || event.type;
      if (this.painters.length && kind === "click" && !layers && !this._map._draggableMoved(this._map)) {
        const picked = this._picked(event);
        if (picked) {
          picked.painter.click(picked.found);
          return;
        }
      }
      L.Canvas.prototype._fireEvent.call(this, layers, event, type);
    },

    /* Every move counts: Leaflet leaves out those that follow within some milliseconds, the last one too. */
    _onMouseMove(event) {
      L.Canvas.prototype._onMouseMove.call(this, event);
      if (!this._map || !this.painters.length || this._map.dragging.moving()) return;
      const layer = this._hoveredLayer;
      this._hover(layer ? null : this._picked(event), event, Boolean(layer));
    },

    _handleMouseOut(event) {
      L.Canvas.prototype._handleMouseOut.call(this, event);
      if (this.painters.length) this._hover(null, event, false);
    },

    _hover(picked, event, overLayer) {
      this._container.classList.toggle("leaflet-interactive", overLayer || picked !== null);
      if (this.hovered) this.hovered(picked, event);
    },
  });
})(window.plotmap);
