// The live map: the road in classes of colour on one canvas, over trees and degrees, without tiles.

const NEAREST_OUTLINES = 12; // zoom, at which a kilometre is some 30 pixels
const REACH = 36; // pixels within which the pointer takes hold of the road

function makeMap(map, drive) {
  const bed = L.layerGroup().addTo(map);
  const road = L.layerGroup().addTo(map);
  let bedOf = "";
  let chosen = [0, drive.count];
  drive.flat = flattened(map, drive);
  rememberProjected(map);
  const fit = ([first, after]) => {
    const places = [];
    for (let row = first; row < after; row += 1) places.push(drive.place(row), drive.end(row));
    map.fitBounds(L.latLngBounds(places).pad(0.04), { padding: [18, 18], maxZoom: 15, animate: false });
  };
  const pane = furnish(map, drive, "Map of the drive", () => fit([0, drive.count]));
  const markRenderer = L.svg({ pane: pane("mark", 620) });
  const mark = L.circleMarker(drive.place(0), { renderer: markRenderer, pane: "mark", radius: 8, weight: 3, fillOpacity: 1, opacity: 1, interactive: false });
  const signs = makeSigns(map, [drive], pane("signs", 450));

  return {
    show(layer) {
      road.clearLayers();
      const line = (group, places, color, weight) => group.addLayer(L.polyline(places, { color, weight, opacity: 1, smoothFactor: 0.5, interactive: false }));
      const all = (rows) => [...roadLines(drive, layer, rows).values()].flat();
      const isWhole = chosen[0] === 0 && chosen[1] === drive.count;
      const look = [...chosen, ink("--casing")].join();
      // What lies beneath the colours stays as it is while they change.
      if (look !== bedOf) {
        bed.clearLayers();
        // Where a leg is chosen, the road before and after it is a thin line.
        if (!isWhole) line(bed, all([0, drive.count]), ink("--sun"), 2.4);
        line(bed, all(chosen), ink("--casing"), 7);
        bedOf = look;
      }
      for (const [index, places] of roadLines(drive, layer, chosen)) line(road, places, drive.colour(layer, index), 4.4);
      signs.show(layer, chosen);
    },
    mark(row, layer) {
      mark.setLatLng(drive.place(row));
      mark.setStyle({ color: ink("--ink"), fillColor: drive.colour(layer, drive.classOf(layer, row)) });
      mark.addTo(map);
      map.panInside(mark.getLatLng(), { padding: [24, 24] });
    },
    fit(first, after) {
      chosen = [first, after];
      fit(chosen);
      signs.lay();
    },
    onPoint(point, range) {
      map.on("mousemove click", (event) => {
        const row = nearestRow(map, drive.flat, event.latlng, range());
        if (row !== null) point(row);
      });
      // A stop has no length: its number takes hold of it.
      for (const { leg, marker } of signs.stops) {
        marker.on("mouseover mousemove click", (event) => {
          L.DomEvent.stopPropagation(event); // the road beneath would answer too
          const [first, after] = range();
          if (leg.first >= first && leg.after <= after) point(leg.middle);
        });
      }
    },
    resized: () => map.invalidateSize(),
  };
}

// Keys, fingers, trees, hills, degrees, compass and scale; returns what makes a pane above them.
function furnish(map, data, label, fitWhole) {
  const container = map.getContainer();
  const pane = (name, zIndex) => (map.createPane(name).style.zIndex = zIndex) && name;
  container.tabIndex = 0;
  container.setAttribute("role", "application");
  container.setAttribute("aria-label", `${label}. Arrow keys move it, plus and minus zoom.`);
  map.attributionControl?.remove();
  map.scrollWheelZoom.disable();
  map.on("focus", () => map.scrollWheelZoom.enable()).on("blur", () => map.scrollWheelZoom.disable());
  // One finger scrolls the page, two move the map.
  if (matchMedia("(pointer: coarse)").matches) map.dragging.disable();
  addOutlines(map, data, pane("outlines", 205), pane("surveyed", 207));
  addGround(map, data, pane("ground", 210));
  addDegrees(map, pane("degrees", 220));
  addCompass(map);
  addWhole(map, fitWhole);
  const imperial = data.distance === "mi";
  L.control.scale({ metric: !imperial, imperial, maxWidth: 140 }).addTo(map);
  return pane;
}

// Asking for a style makes the browser compute all of them, so each is asked for once a scheme.
const ink = (() => {
  const isDark = matchMedia("(prefers-color-scheme: dark)");
  const known = new Map();
  return (variable) => {
    const key = `${variable} ${isDark.matches}`;
    if (!known.has(key)) known.set(key, getComputedStyle(document.documentElement).getPropertyValue(variable).trim());
    return known.get(key);
  };
})();

// Places of the road are projected once: those that hold `flat`, their place at zoom 0.
function rememberProjected(map) {
  const project = map.latLngToLayerPoint;
  map.latLngToLayerPoint = (latlng) => {
    if (!latlng.flat) return project.call(map, latlng);
    const scale = map.getZoomScale(map.getZoom(), 0);
    const corner = map.getPixelOrigin();
    return L.point(Math.round(latlng.flat.x * scale) - corner.x, Math.round(latlng.flat.y * scale) - corner.y);
  };
}

// All stretches of one class as one list of lines, so that the canvas draws a class at a stroke.
function roadLines(drive, layer, [from, to] = [0, drive.count]) {
  const lines = new Map();
  const { starts, ends } = drive.flat;
  let open = null;
  for (const leg of drive.legs) {
    open = null;
    if (leg.stop) continue;
    for (let row = Math.max(leg.first, from); row < Math.min(leg.after, to); row += 1) {
      const index = drive.classOf(layer, row);
      if (!open || open.index !== index) {
        open = { index, places: [starts[row]] };
        if (!lines.has(index)) lines.set(index, []);
        lines.get(index).push(open.places);
      }
      open.places.push(ends[row]);
      if (drive.breaksAfter(row)) open = null;
    }
  }
  return lines;
}

function flattened(map, drive) {
  const x = new Float64Array(drive.count);
  const y = new Float64Array(drive.count);
  const known = (place) => Object.assign(L.latLng(place), { flat: map.project(place, 0) });
  const starts = Array.from({ length: drive.count }, (_, row) => known(drive.place(row)));
  const ends = starts.map((_, row) => (drive.breaksAfter(row) ? known(drive.end(row)) : starts[row + 1]));
  for (let row = 0; row < drive.count; row += 1) ({ x: x[row], y: y[row] } = starts[row].flat);
  return { x, y, starts, ends };
}

function nearestRow(map, flat, latlng, [first, after]) {
  const scale = map.getZoomScale(map.getZoom(), 0);
  const at = map.project(latlng, 0);
  let nearest = null;
  let least = (REACH / scale) ** 2;
  for (let row = first; row < after; row += 1) {
    const away = (flat.x[row] - at.x) ** 2 + (flat.y[row] - at.y) ** 2;
    if (away < least) [nearest, least] = [row, away];
  }
  return nearest;
}

// The pictures of trees and hills are in the page once: in the still map.
function addGround(map, { ground }, pane) {
  for (const kind of ["trees", "relief"].filter((name) => name in ground)) {
    const [south, west, north, east] = ground[kind];
    const picture = document.querySelector(`.still image.${kind}`).getAttribute("href");
    if (kind === "trees") addBeyond(map, pane, [south, west, north, east]);
    L.imageOverlay(picture, [[south, west], [north, east]], { pane, alt: "", className: kind }).addTo(map);
  }
}

// Water and borders, whose lines are good to a kilometre: nearer they would mislead.
// What a map file tells is good to some metres, and stays.
function addOutlines(map, { outlines }, coarse, surveyed) {
  const placesOf = (packed) => {
    const [latitudes, longitudes] = packed.map(unpacked);
    return Array.from(latitudes, (latitude, number) => [latitude, longitudes[number]]);
  };
  const draw = (pane, waters, lines) => {
    const options = { renderer: L.svg({ pane, padding: 0.5 }), pane, interactive: false, smoothFactor: 0.5 };
    if (waters.length) {
      L.polygon(waters.map(placesOf), { ...options, className: "water", stroke: false, fillOpacity: 1 }).addTo(map);
    }
    for (const [className, drawn] of Object.entries(lines)) {
      L.polyline(drawn.map(placesOf), { ...options, className, fill: false, opacity: 1 }).addTo(map);
    }
  };
  draw(coarse, outlines.water, { border: outlines.borders });
  draw(surveyed, outlines.ponds, { coast: outlines.coasts, "main-road": outlines.roads });
  const hideNear = () => (map.getPane(coarse).hidden = map.getZoom() > NEAREST_OUTLINES);
  map.on("zoomend", hideNear);
}

// Hatching over all that lies beyond the picture of the trees: nothing is known there.
function addBeyond(map, pane, [south, west, north, east]) {
  const renderer = L.svg({ pane, padding: 0.5 });
  const rim = (n, s, w, e) => [[n, w], [n, e], [s, e], [s, w]];
  const wide = [Math.min(85, north + 20), Math.max(-85, south - 20), west - 40, east + 40];
  L.polygon([rim(...wide), rim(north, south, west, east)], { renderer, pane, className: "not-known", interactive: false }).addTo(map);
  // The pattern of the still map is not drawn while that is hidden.
  const pattern = document.querySelector(".still pattern");
  if (!pattern) return;
  renderer._container.prepend(pattern.parentNode);
}

// A button that shows everything again, beneath those that zoom.
function addWhole(map, fitWhole) {
  const control = L.control({ position: "topleft" });
  control.onAdd = () => {
    const box = element("div", "leaflet-bar");
    const button = element("button", "whole-route");
    button.type = "button";
    button.title = "Whole route";
    button.setAttribute("aria-label", "Whole route");
    const drawing = svg("svg", { viewBox: "0 0 18 18", "aria-hidden": "true" });
    drawing.append(svg("path", { d: "M2 6V2H6M12 2H16V6M16 12V16H12M6 16H2V12M5 12L9 7L13 11" }));
    button.append(drawing);
    button.addEventListener("click", fitWhole);
    L.DomEvent.disableClickPropagation(box);
    box.append(button);
    return box;
  };
  control.addTo(map);
}

function addCompass(map) {
  const compass = L.control({ position: "topright" });
  compass.onAdd = () => {
    const box = element("div", "compass", "N");
    box.prepend(element("div", "", "↑"));
    return box;
  };
  compass.addTo(map);
}

// Lines of latitude and longitude with their degrees along the frame.
function addDegrees(map, pane) {
  const lines = L.layerGroup().addTo(map);
  const renderer = L.svg({ pane, padding: 0.5 });
  const labels = element("div", "degrees");
  map.getContainer().append(labels);
  const draw = () => {
    lines.clearLayers();
    labels.replaceChildren();
    const seen = map.getBounds();
    const wide = map.getSize();
    const across = degreeTicks(seen.getWest(), seen.getEast(), "E", "W", Math.max(2, wide.x / 150));
    const up = degreeTicks(Math.max(seen.getSouth(), -85), Math.min(seen.getNorth(), 85), "N", "S", Math.max(2, wide.y / 110));
    const add = (places, label, at) => {
      lines.addLayer(L.polyline(places, { renderer, pane, weight: 1, opacity: 1, className: "degree-line", interactive: false }));
      const box = element("span", "degree", label);
      Object.assign(box.style, { position: "absolute", zIndex: 400, left: `${at.x}px`, top: `${at.y}px` });
      labels.append(box);
    };
    for (const [east, label] of across) {
      const top = map.latLngToContainerPoint([seen.getNorth(), east]);
      const isFree = top.x > 50 && top.x < wide.x - 80; // of the buttons and the compass
      add([[seen.getSouth(), east], [seen.getNorth(), east]], isFree ? label : "", { x: top.x + 4, y: 1 });
    }
    for (const [north, label] of up) {
      const side = map.latLngToContainerPoint([north, seen.getEast()]);
      const isFree = side.y > 160 && side.y < wide.y - 30; // of the buttons and the scale
      add([[north, seen.getWest()], [north, seen.getEast()]], isFree ? label : "", { x: 4, y: side.y - 18 });
    }
  };
  map.on("moveend resize", draw);
}

function degreeTicks(first, last, positive, negative, most) {
  const step = roundStep((last - first) / most);
  const decimals = [0, 1, 2, 3, 4, 5, 6].find((digits) => Math.abs(Number(step.toFixed(digits)) - step) < 1e-9) ?? 6;
  const ticks = [];
  for (let number = Math.ceil(first / step); number * step <= last; number += 1) {
    const place = number * step;
    const shown = positive === "E" ? ((((place + 180) % 360) + 360) % 360) - 180 : place;
    const letter = Math.abs(shown) < 1e-9 || shown === -180 ? "" : ` ${shown > 0 ? positive : negative}`;
    ticks.push([place, `${Math.abs(shown).toFixed(decimals)}°${letter}`]);
  }
  return ticks;
}
