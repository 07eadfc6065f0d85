"use strict";
/* Places: coordinates under the pointer in the survey's own grid and in degrees, and where the reader stands. */
(function (plotmap) {
  const make = plotmap.make;
  const say = plotmap.say;
  const WAIT_MS = 20000;
  const METRES_PER_DEGREE = 111320; /* on the meridian */
  const NEAR = 0.5; /* the map moves to a place not farther from the survey than this part of its extent */

  /* Chebyshev polynomials of degree 0, 1, … at t. */
  function chebyshev(t, degree) {
    const values = [1, t];
    while (values.length <= degree) values.push(2 * t * values[values.length - 1] - values[values.length - 2]);
    return values;
  }

  /* Easting and northing of a place, or null where the fit does not reach. */
  plotmap.toGrid = function (grid, { lat, lng }) {
    const u = (lng - grid.lon) / grid.half_lon;
    const v = (lat - grid.lat) / grid.half_lat;
    if (Math.abs(u) > 1 || Math.abs(v) > 1) return null;
    const [along, up] = [chebyshev(u, grid.degree), chebyshev(v, grid.degree)];
    let [x, y, term] = [0, 0, 0];
    for (let i = 0; i <= grid.degree; i += 1)
      for (let j = 0; j <= grid.degree - i; j += 1, term += 1) {
        x += grid.x[term] * along[i] * up[j];
        y += grid.y[term] * along[i] * up[j];
      }
    return [x, y];
  };

  /* Decimals that a length in m bears that is known to this step. */
  const decimalsFor = (step) => Math.min(6, Math.max(0, Math.ceil(-Math.log10(step))));

  /* A place in degrees, with as many decimals as the step in m bears. */
  function degrees({ lat, lng }, step) {
    const decimals = Math.min(7, decimalsFor(step / METRES_PER_DEGREE));
    const side = (value, plus, minus) => `${Math.abs(value).toFixed(decimals)}°\u00a0${say(value < 0 ? minus : plus)}`;
    return `${side(lat, "letter_north", "letter_south")}, ${side(lng, "letter_east", "letter_west")}`;
  }

  /* Lines of a place: in the survey's grid where it reaches, and in degrees. */
  function lines(survey, place, step) {
    const { grid } = survey;
    const found = grid ? plotmap.toGrid(grid, place) : null;
    const shown = [make("span", {}, `${degrees(place, step)} (WGS\u00a084)`)];
    if (found) {
      const decimals = decimalsFor(Math.max(step, 2 * grid.error_m) / grid.metres);
      const names = [grid.x_name, grid.y_name].map((name) => plotmap.sayOr("axis", name));
      shown.unshift(make("span", {}, `${names[0]} ${found[0].toFixed(decimals)}, ${names[1]} ${found[1].toFixed(decimals)} ${grid.unit} (${grid.crs})`));
    }
    return shown;
  }

  /* Ground covered by a pixel, in m. */
  function pixel(map) {
    const middle = map.getSize().divideBy(2);
    return map.distance(map.containerPointToLatLng(middle), map.containerPointToLatLng(middle.add([1, 0])));
  }

  /* Under the pointer; where the map is moved by keys, of its middle. */
  plotmap.setUpPointer = function (map, survey) {
    const element = make("div", { class: "position" });
    const show = (place) => element.replaceChildren(...lines(survey, place, pixel(map)));
    map.on("mousemove", ({ latlng }) => show(latlng));
    map.on("mouseout", () => element.replaceChildren());
    plotmap.control("bottomleft", element).addTo(map);
  };

  function why(error) {
    if (error.code === 1) return say(location.protocol === "file:" ? "where_refused_file" : "where_refused");
    return say(error.code === 3 ? "where_late" : "where_unavailable");
  }

  function marks(map) {
    const pane = map.createPane("where");
    pane.style.zIndex = 460;
    pane.style.pointerEvents = "none";
    const style = { renderer: L.svg({ pane: "where", padding: 0.5 }), pane: "where", interactive: false, color: "#1a4fa0" };
    return {
      ring: L.circle([0, 0], { ...style, radius: 1, weight: 2, fillColor: "#1a4fa0", fillOpacity: 0.12 }),
      dot: L.circleMarker([0, 0], { ...style, radius: 7, weight: 3, color: "#ffffff", fillColor: "#1a4fa0", fillOpacity: 1 }),
    };
  }

  /* The button that asks the browser where the reader stands; nothing is asked before it is pressed. */
  plotmap.setUpWhere = function (map, survey, whole) {
    const button = plotmap.mapButton("locate", say("where_button"), "M10 1v4M10 15v4M1 10h4M15 10h4M10 4.5a5.5 5.5 0 1 0 .01 0M10 8.4a1.6 1.6 0 1 0 .01 0");
    const note = make("div", { class: "where", role: "status" });
    let drawn = null;

    function found({ coords }) {
      const place = L.latLng(coords.latitude, coords.longitude);
      drawn = drawn || marks(map);
      drawn.ring.setLatLng(place).setRadius(coords.accuracy).addTo(map);
      drawn.dot.setLatLng(place).addTo(map);
      const near = whole.isValid() && whole.pad(NEAR).contains(place);
      if (near) map.panTo(place, { animate: false });
      const step = Math.max(1, coords.accuracy / 10);
      const away = near || !whole.isValid() ? null : make("span", {}, say("where_far", { distance: (map.distance(place, whole.getCenter()) / 1000).toFixed(1) }));
      note.replaceChildren(make("span", {}, say("where_found", { metres: Math.round(coords.accuracy) })), ...[away].filter(Boolean), ...lines(survey, place, step));
    }

    function failed(error) {
      if (drawn) for (const mark of [drawn.ring, drawn.dot]) mark.remove();
      note.textContent = why(error);
    }

    button.addEventListener("click", () => {
      if (!navigator.geolocation) {
        note.textContent = say("where_unavailable");
        return;
      }
      note.textContent = say("where_asking");
      navigator.geolocation.getCurrentPosition(found, failed, { enableHighAccuracy: true, timeout: WAIT_MS, maximumAge: 0 });
    });
    plotmap.control("topleft", make("div", { class: "leaflet-bar" }, button)).addTo(map);
    plotmap.control("bottomleft", note).addTo(map);
  };
})(window.plotmap);
