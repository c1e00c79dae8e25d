// What stands beside the road: stops with what they bring, numbers of legs, start and finish, names, kilometres.

const NUMBER = [26, 24]; // pixels, and no smaller: a finger has to hit them
const ARROW_EVERY = 120; // pixels of road
const TICK_EVERY = 95;
const AROUND = offsetsAround(6);

// Signs of one drive, or of several, of which only stops bear numbers. `layFirst` takes room before all else.
function makeSigns(map, drives, pane, layFirst = () => {}) {
  const isOne = drives.length === 1;
  const badges = drives.flatMap((drive) => drive.legs.filter((leg) => isOne || leg.stop).map((leg) => badgeOf(map, drive, leg)));
  const stops = badges.filter((one) => one.leg.stop);
  const drawing = svg("svg", { class: "signs leaflet-zoom-hide", width: 1, height: 1 });
  map.getPane(pane).append(drawing);
  const names = new Map();
  let layer = "power";
  let range = [0, Infinity];

  const paint = () => {
    for (const { drive, leg, html } of badges) {
      html.classList.toggle("faded", leg.first < range[0] || leg.after > range[1]);
      if (leg.stop) paintStop(drive, leg, html, layer);
      names.get(leg)?.replaceChildren(stopWords(drive, leg));
    }
  };
  const lay = () => {
    const room = roomOn(map, drives);
    for (const drive of drives) drive.mostLetters = map.getSize().x < NARROW ? 14 : 26;
    const corner = map.containerPointToLayerPoint([0, 0]);
    const pointOf = (latlng) => map.latLngToContainerPoint(latlng);
    const parts = [];
    const write = (words, at, offset, kind) => {
      const text = svg("text", { class: `map-label ${kind}`, x: at.x + offset[0], y: at.y + offset[1] + 4 }, words);
      parts.push(text);
      return text;
    };
    const ends = apart(drives.flatMap(endsOf), pointOf);
    drawing.setAttribute("transform", `translate(${corner.x} ${corner.y})`);
    names.clear();
    layFirst(room);
    layBadges(room, stops, pointOf, AROUND, true);
    for (const end of ends) {
      const at = pointOf(end.place);
      if (!room.isSeen(at)) continue;
      parts.push(svg("circle", { class: `end-${end.kind}`, cx: at.x, cy: at.y, r: 5.5 }));
      room.take(at, [12, 12]);
    }
    layBadges(room, badges.filter((one) => !one.leg.stop), pointOf, ring([21, 27, 36, 48, 64]), false);
    for (const drive of drives) parts.push(...arrowParts(map, drive));
    for (const { drive, leg, at } of stops) {
      const words = stopWords(drive, leg);
      const wide = measure(words.replace(/\d+(\.\d)? Wh$/, "8888 Wh"));
      const offset = room.isSeen(at) ? room.put(at, [wide, 16], beside(wide, [18, 30, 44])) : null;
      if (offset) names.set(leg, write(words, at, offset, "name"));
    }
    for (const { words: full, place, kind } of [...ends, ...apart(drives.flatMap((drive) => drive.names ?? []), pointOf)]) {
      const at = pointOf(place);
      const words = shortened(full, drives[0].mostLetters);
      const wide = measure(words);
      const offset = room.isSeen(at) ? room.put(at, [wide, 16], beside(wide, [10, 20, 32])) : null;
      if (offset) write(words, at, offset, "name");
      if (offset && kind === "waypoint") parts.push(svg("circle", { class: "waypoint", cx: at.x, cy: at.y, r: 3 }));
    }
    for (const { at, turn, words } of drives.flatMap((drive) => ticksOf(map, drive))) {
      const wide = measure(words);
      const [east, south] = [Math.cos(turn), Math.sin(turn)];
      const reach = 10 + wide / 2;
      const offset = room.put(at, [wide, 14], [[-south * reach, east * reach], [south * reach, -east * reach]]);
      if (!offset) continue;
      parts.push(svg("path", { class: "tick", d: `M${at.x - 6 * south} ${at.y + 6 * east}L${at.x + 6 * south} ${at.y - 6 * east}` }));
      write(words, at, offset, "kilometre");
    }
    parts.push(...townParts(map, drives[0], room));
    drawing.replaceChildren(...parts);
  };
  map.on("moveend zoomend resize", lay);

  return {
    stops,
    show(name, rows) {
      [layer, range] = [name, rows];
      paint();
    },
    lay: () => {
      lay();
      paint();
    },
  };
}

// Things without those that share kind and place with one before.
function apart(things, pointOf) {
  const at = things.map(({ place }) => pointOf(place));
  return things.filter((thing, number) => !things.slice(0, number).some((one, before) => one.kind === thing.kind && at[before].distanceTo(at[number]) < 8));
}

// Towns have what room is left off the road, the largest first; on narrow maps fewer.
function townParts(map, { outlines, mostLetters }, room) {
  const parts = [];
  const most = map.getSize().x < NARROW ? 6 : 14;
  for (const [name, ...place] of outlines.towns) {
    const at = map.latLngToContainerPoint(place);
    if (parts.length >= 2 * most || !room.isSeen(at)) continue;
    const words = shortened(name, mostLetters);
    const wide = measure(words);
    const offset = room.put(at, [wide, 15], beside(wide, [6]), 4, 2);
    if (!offset) continue;
    parts.push(svg("circle", { class: "town", cx: at.x, cy: at.y, r: 2 }));
    parts.push(svg("text", { class: "map-label town", x: at.x + offset[0], y: at.y + offset[1] + 4 }, words));
  }
  return parts;
}

function badgeOf(map, drive, leg) {
  const html = element("span", leg.stop ? "badge stop" : "badge", `${drive.letter ?? ""}${leg.leg}`);
  const icon = L.divIcon({ html, className: "", iconSize: [0, 0] });
  const marker = L.marker(drive.place(leg.middle), { icon, interactive: leg.stop, keyboard: false, zIndexOffset: leg.stop ? 1000 : 0 });
  return { drive, leg, html, marker: marker.addTo(map), at: null };
}

// Stops stand on their places, or near them in rows and columns; numbers of roads beside the road.
function layBadges(room, badges, pointOf, offsets, always) {
  for (const badge of badges) {
    badge.at = pointOf(badge.marker.getLatLng());
    const [east, south] = room.put(badge.at, NUMBER, offsets, always ? 0 : 4) ?? (always ? offsets.at(-1) : [NaN, 0]);
    badge.html.hidden = Number.isNaN(east);
    if (!badge.html.hidden) badge.html.style.transform = `translate(${Math.round(east)}px, ${Math.round(south)}px)`;
  }
}

function offsetsAround(most) {
  const side = Array.from({ length: 2 * most + 1 }, (_, number) => number - most);
  const all = side.flatMap((column) => side.map((row) => [column * (NUMBER[0] + 1), row * (NUMBER[1] + 1)]));
  return all.sort((a, b) => Math.hypot(...a) - Math.hypot(...b));
}

function stopWh(drive, leg) {
  return drive.soFarWh[leg.after] - drive.soFarWh[leg.first];
}

function stopWords(drive, leg) {
  return `${shortened(leg.name, drive.mostLetters)} ${readable(stopWh(drive, leg))} Wh`;
}

// A stop has the colour of its mean over time, and letters that stand out from it.
function paintStop(drive, leg, html, layer) {
  const { start_s: starts } = drive.rows;
  let [sum, span] = [0, 0];
  for (let row = leg.first; row < leg.after; row += 1) {
    const seconds = starts[row + 1] - starts[row];
    const value = drive.values[layer][row];
    if (Number.isNaN(value)) continue;
    sum += seconds * value;
    span += seconds;
  }
  const colour = (drive.classColour ?? drive.colour)(layer, classOf(drive.layers[layer], span > 0 ? sum / span : NaN));
  html.style.background = colour;
  html.style.color = isDark(colour) ? "#fff" : "#000";
}

function isDark(colour) {
  const encoded = [1, 3, 5].map((at) => parseInt(colour.slice(at, at + 2), 16) / 255);
  const [red, green, blue] = encoded.map((one) => (one <= 0.04045 ? one / 12.92 : ((one + 0.055) / 1.055) ** 2.4));
  return (0.2126 * red + 0.7152 * green + 0.0722 * blue + 0.05) ** 2 < 1.05 * 0.05; // contrast as in WCAG 2.1
}

function endsOf(drive) {
  const last = drive.count - 1;
  const [start, finish] = [drive.place(0), drive.end(last)];
  const isLoop = Math.hypot(start[0] - finish[0], start[1] - finish[1]) < 0.002;
  if (isLoop) return [{ kind: "start", place: start, words: "Start and finish" }];
  return [{ kind: "start", place: start, words: "Start" }, { kind: "finish", place: finish, words: "Finish" }];
}

// The road in the window, stretch by stretch: from, to, and how many pixels of road lie before it.
function walkRoad(map, drive, visit) {
  const place = containerPlaces(map, drive);
  const size = map.getSize();
  const isSeen = (at) => at.x > 6 && at.y > 6 && at.x < size.x - 6 && at.y < size.y - 6;
  let along = 0;
  for (let row = 0; row < drive.count - 1; row += 1) {
    const [from, to] = [place(row), place(row + 1)];
    const length = Math.hypot(to.x - from.x, to.y - from.y);
    if (length > 0 && !drive.breaksAfter(row)) {
      const at = (share) => ({ x: from.x + share * (to.x - from.x), y: from.y + share * (to.y - from.y) });
      visit({ row, along, length, at, isSeen, turn: Math.atan2(to.y - from.y, to.x - from.x) });
      along += length;
    }
  }
  return along;
}

function arrowParts(map, drive) {
  const parts = [];
  let next = ARROW_EVERY / 2;
  walkRoad(map, drive, ({ along, length, at, isSeen, turn }) => {
    while (next < along + length) {
      const place = at((next - along) / length);
      next += ARROW_EVERY;
      if (!isSeen(place)) continue;
      const transform = `translate(${place.x.toFixed(1)} ${place.y.toFixed(1)}) rotate(${((turn * 180) / Math.PI).toFixed(0)})`;
      for (const kind of ["arrow bed", "arrow"]) parts.push(svg("path", { class: kind, transform, d: "M-3.5 -5L3 0L-3.5 5" }));
    }
  });
  return parts;
}

// Round distances from the start, so far apart that their figures have room.
function ticksOf(map, drive) {
  const ticks = [];
  const along = (row) => (drive.rows.along_m[row] / 1000) * drive.distance_per_km;
  const pixels = walkRoad(map, drive, () => {});
  const whole = along(drive.count - 1);
  if (!(pixels > 0 && whole > 0)) return ticks;
  const step = roundStep((whole / pixels) * TICK_EVERY);
  walkRoad(map, drive, ({ row, at, isSeen, turn }) => {
    const [from, to] = [along(row), along(row + 1)];
    for (let mark = Math.ceil(from / step + 1e-9) * step; mark <= to && mark < whole - step / 4; mark += step) {
      const place = at(to > from ? (mark - from) / (to - from) : 0);
      if (mark > 0 && isSeen(place)) ticks.push({ at: place, turn, words: `${Number(mark.toFixed(6))} ${drive.distance}` });
    }
  });
  return ticks;
}
