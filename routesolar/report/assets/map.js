// The live map: the road in classes of colour on one canvas, over trees and degrees, without tiles.

const REACH = 36; // pixels within which the pointer takes hold of the road

function makeMap(map, drive) {
  const road = L.layerGroup().addTo(map);
  const pane = furnish(map, drive, "Map of the drive");
  const markRenderer = L.svg({ pane: pane("mark", 620) });
  const mark = L.circleMarker(drive.place(0), { renderer: markRenderer, pane: "mark", radius: 8, weight: 3, fillOpacity: 1, opacity: 1, interactive: false });
  const flat = flattened(map, drive);

  const numbers = addNumbers(map, drive);

  return {
    show(layer) {
      road.clearLayers();
      const lines = roadLines(drive, layer);
      const line = (places, color, weight) => road.addLayer(L.polyline(places, { color, weight, opacity: 1, smoothFactor: 0.5, interactive: false }));
      line([...lines.values()].flat(), ink("--casing"), 7);
      for (const [index, places] of lines) line(places, drive.colour(layer, index), 4.4);
    },
    mark(row, layer) {
      mark.setLatLng(drive.place(row));
      mark.setStyle({ color: ink("--ink"), fillColor: drive.colour(layer, drive.classOf(layer, row)) });
      mark.addTo(map);
      map.panInside(mark.getLatLng(), { padding: [24, 24] });
    },
    fit(first, after) {
      const places = [];
      for (let row = first; row < after; row += 1) places.push(drive.place(row), drive.end(row));
      map.fitBounds(L.latLngBounds(places).pad(0.04), { padding: [18, 18], maxZoom: 15, animate: false });
    },
    onPoint(point, range) {
      map.on("mousemove click", (event) => {
        const row = nearestRow(map, flat, event.latlng, range());
        if (row !== null) point(row);
      });
      // A stop has no length: its number takes hold of it.
      for (const { leg, marker } of numbers.filter((one) => one.leg.stop)) {
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
function furnish(map, data, label) {
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
  addGround(map, data, pane("ground", 210));
  addDegrees(map, pane("degrees", 220));
  addCompass(map);
  const imperial = data.distance === "mi";
  L.control.scale({ metric: !imperial, imperial, maxWidth: 140 }).addTo(map);
  return pane;
}

function ink(variable) {
  return getComputedStyle(document.documentElement).getPropertyValue(variable).trim();
}

// All stretches of one class as one list of lines, so that the canvas draws a class at a stroke.
function roadLines(drive, layer) {
  const lines = new Map();
  let open = null;
  for (const leg of drive.legs) {
    open = null;
    if (leg.stop) continue;
    for (let row = leg.first; row < leg.after; row += 1) {
      const index = drive.classOf(layer, row);
      if (!open || open.index !== index) {
        open = { index, places: [drive.place(row)] };
        if (!lines.has(index)) lines.set(index, []);
        lines.get(index).push(open.places);
      }
      open.places.push(drive.end(row));
      if (drive.breaksAfter(row)) open = null;
    }
  }
  return lines;
}

function flattened(map, drive) {
  const x = new Float64Array(drive.count);
  const y = new Float64Array(drive.count);
  for (let row = 0; row < drive.count; row += 1) ({ x: x[row], y: y[row] } = map.project(drive.place(row), 0));
  return { x, y };
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
    L.imageOverlay(picture, [[south, west], [north, east]], { pane, alt: "", className: kind }).addTo(map);
  }
}

const NUMBER = { width: 26, height: 24 }; // pixels, and no smaller: a finger has to hit them

// The legs' numbers, at the middle of their roads; the stops' above them and side by side where they would touch.
function addNumbers(map, drive) {
  const numbers = drive.legs.map((leg) => {
    const html = element("span", leg.stop ? "badge stop" : "badge", leg.leg);
    const marker = L.marker(drive.place(leg.middle), {
      icon: numberIcon(html), interactive: leg.stop, keyboard: false, zIndexOffset: leg.stop ? 1000 : 0,
    });
    return { leg, html, marker: marker.addTo(map) };
  });
  const stops = numbers.filter((one) => one.leg.stop);
  map.on("zoomend viewreset", () => setApart(map, stops));
  setApart(map, stops);
  return numbers;
}

function numberIcon(html, [east, south] = [0, 0]) {
  const { width, height } = NUMBER;
  return L.divIcon({ html, className: "", iconSize: [width, height], iconAnchor: [width / 2 - east, height / 2 - south] });
}

// Each number stands as near its place as those before it leave room, in rows and columns around it.
function setApart(map, stops) {
  const taken = [];
  for (const { html, marker } of stops) {
    const at = map.latLngToLayerPoint(marker.getLatLng());
    const touches = ([east, south]) => taken.some(([x, y]) =>
      Math.abs(x - at.x - east) < NUMBER.width && Math.abs(y - at.y - south) < NUMBER.height);
    const offset = AROUND.find((one) => !touches(one)) ?? AROUND.at(-1);
    taken.push([at.x + offset[0], at.y + offset[1]]);
    marker.setIcon(numberIcon(html, offset));
  }
}

const AROUND = offsetsAround(6);

function offsetsAround(most) {
  const side = Array.from({ length: 2 * most + 1 }, (_, number) => number - most);
  const all = side.flatMap((column) => side.map((row) => [column * NUMBER.width, row * NUMBER.height]));
  return all.sort((a, b) => Math.hypot(...a) - Math.hypot(...b));
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
      const isFree = side.y > 110 && side.y < wide.y - 30; // of the buttons and the scale
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
