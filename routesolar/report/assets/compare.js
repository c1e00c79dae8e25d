// Routes side by side: on one map, and on one chart of what each has gathered since it left.

const MOST_STYLES = 6;
const DASHES = ["", "11 8", "4 5", "14 7 3 7", "6 6", "9 4 2 4 2 4"];
const CHART_STEPS = 200; // places the keys step through

function start() {
  const data = readData();
  const routes = data.routes.map((route, number) => routeOf(data, route, number));
  comeAlive(map_drive);
  const map = makeRoutesMap(map_drive, data, routes);
  const chartBox = document.querySelector(".chart");
  const chart = makeGathered(chartBox, data, routes);
  const read = readerOf(data, routes);
  const lastS = Math.max(...routes.map((route) => route.endS));
  const state = { atS: (data.parting_s ?? [0, lastS])[1], layer: "routes" };

  const mark = (seconds) => {
    state.atS = Math.min(Math.max(seconds, 0), lastS);
    map.mark(state.atS, state.layer);
    chart.mark(state.atS);
    const [time, ...told] = read(state.atS);
    chartBox.setAttribute("aria-valuenow", Math.round(state.atS));
    chartBox.setAttribute("aria-valuetext", `${time}: ${told.join("; ")}`);
  };
  const show = (layer) => {
    state.layer = layer;
    map.show(layer);
    document.querySelector(".key .watts").hidden = layer === "routes";
    map.mark(state.atS, layer);
  };

  document.querySelectorAll("input[name=layer]").forEach((input) => input.addEventListener("change", () => show(input.value)));
  chart.onPoint(mark);
  map.onPoint(mark);
  slideWithKeys(chartBox, lastS, state, mark);
  const redraw = () => {
    chart.draw();
    chart.mark(state.atS);
  };
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => show(state.layer));
  // Paper shows the still map, which tells the routes apart.
  let shown = null;
  window.addEventListener("beforeprint", () => {
    shown = state.layer;
    show("routes");
  });
  window.addEventListener("afterprint", () => show(shown));
  onNewWidth(chartBox, () => {
    map.resized();
    redraw();
  });
  map.fit();
  show(state.layer);
  chart.draw();
  mark(state.atS);
}

function routeOf(data, route, number) {
  const rows = { start_s: unpacked(route.start_s), power_w: unpacked(route.power_w) };
  for (const [name, packed] of Object.entries(route.line)) rows[name] = unpacked(packed);
  const drive = driveOf({ ...data, legs: route.legs, breaks: route.breaks }, rows, 1);
  const { count, soFarWh } = drive;
  const share = soFarWh[count] > 0 ? route.energy_wh / soFarWh[count] : 0; // watts are rounded, the sum is known
  const rowAt = (seconds) => drive.rowAt(seconds, 0, count);
  return {
    ...route,
    ...drive,
    style: (number % MOST_STYLES) + 1,
    dash: DASHES[number % MOST_STYLES],
    colour: () => ink(`--route-${(number % MOST_STYLES) + 1}`),
    classColour: drive.colour,
    endS: rows.start_s[count],
    rowAt,
    gatheredWh(seconds) {
      if (seconds >= rows.start_s[count]) return route.energy_wh;
      const row = rowAt(seconds);
      return share * (soFarWh[row] + (rows.power_w[row] * Math.max(0, seconds - rows.start_s[row])) / 3600);
    },
    placeAt(seconds) {
      const row = rowAt(seconds);
      const spanS = rows.start_s[row + 1] - rows.start_s[row];
      const part = spanS > 0 ? Math.min(1, Math.max(0, (seconds - rows.start_s[row]) / spanS)) : 0;
      const [from, to] = [drive.place(row), drive.end(row)];
      return [from[0] + part * (to[0] - from[0]), from[1] + part * (to[1] - from[1])];
    },
  };
}

function makeRoutesMap(map, data, routes) {
  const roads = L.layerGroup().addTo(map);
  const fit = () => map.fitBounds(L.latLngBounds(whole.flat(2)).pad(0.04), { padding: [18, 18], maxZoom: 15, animate: false });
  const pane = furnish(map, data, "Map of the routes", () => fit());
  const renderer = L.svg({ pane: pane("mark", 620) });
  const marks = routes.map((route) => L.circleMarker(route.place(0), { renderer, pane: "mark", radius: 8, weight: 3, fillOpacity: 1, opacity: 1, interactive: false }).addTo(map));
  rememberProjected(map);
  const flat = routes.map((route) => flattened(map, route));
  routes.forEach((route, number) => (route.flat = flat[number]));
  const letters = routes.map((route) => {
    const html = element("span", "badge", route.letter);
    const icon = L.divIcon({ html, className: "", iconSize: [0, 0] });
    return { html, marker: L.marker(route.place(route.middle), { icon, interactive: false, keyboard: false }).addTo(map) };
  });
  const layLetters = (room) => {
    for (const { html, marker } of letters) {
      const [east, south] = room.put(map.latLngToContainerPoint(marker.getLatLng()), NUMBER, ring([21, 27, 36, 48, 64])) ?? [0, 0];
      html.style.transform = `translate(${Math.round(east)}px, ${Math.round(south)}px)`;
    }
  };
  const signs = makeSigns(map, routes, pane("signs", 450), layLetters);
  const line = (places, color, weight, dashArray = null) =>
    roads.addLayer(L.polyline(places, { color, weight, dashArray, opacity: 1, smoothFactor: 0.5, lineCap: dashArray ? "butt" : "round", interactive: false }));
  const lines = routes.map((route) => [...roadLines(route, "power").values()].flat());
  const whole = routes.map((route) => wholeLines(route));

  return {
    show(layer) {
      roads.clearLayers();
      signs.show("power", [0, Infinity]);
      const [outer, inner] = layer === "routes" ? [7, 4.4] : [10, 4.4];
      if (layer === "routes") whole.forEach((places) => line(places, ink("--casing"), outer));
      whole.forEach((places) => line(places, ink("--paper"), layer === "routes" ? inner : outer));
      routes.forEach((route, number) => line(whole[number], route.colour(), layer === "routes" ? inner : outer, route.dash || null));
      if (layer === "routes") return;
      lines.forEach((places) => line(places, ink("--casing"), inner + 1.6));
      for (const route of routes) {
        for (const [index, places] of roadLines(route, "power")) line(places, route.classColour("power", index), inner);
      }
    },
    mark(seconds, layer) {
      routes.forEach((route, number) => {
        marks[number].setLatLng(route.placeAt(seconds));
        const fillColor = layer === "routes" ? route.colour() : route.classColour("power", route.classOf("power", route.rowAt(seconds)));
        marks[number].setStyle({ color: ink("--ink"), fillColor });
      });
    },
    fit,
    // The route nearest the pointer tells the time.
    onPoint(point) {
      map.on("mousemove click", (event) => {
        const near = routes.map((route, number) => [route, nearestRow(map, flat[number], event.latlng, [0, route.count])]).filter(([, row]) => row !== null);
        if (!near.length) return;
        const away = ([route, row]) => map.latLngToContainerPoint(route.place(row)).distanceTo(event.containerPoint);
        const [route, row] = near.reduce((a, b) => (away(b) < away(a) ? b : a));
        point(route.middleS(row));
      });
      for (const { drive, leg, marker } of signs.stops) {
        marker.on("mouseover mousemove click", (event) => {
          L.DomEvent.stopPropagation(event); // the roads beneath would answer too
          point(drive.middleS(leg.middle));
        });
      }
    },
    resized: () => map.invalidateSize(),
  };
}

// A route as few long lines, so that its dashes run on.
function wholeLines(route) {
  const places = [];
  let open = null;
  for (let row = 0; row < route.count; row += 1) {
    if (!open) places.push((open = [route.place(row)]));
    open.push(route.end(row));
    if (route.breaksAfter(row)) open = null;
  }
  return places;
}

// What each route has gathered, along the time since it left.
function makeGathered(container, data, routes) {
  const highestWh = Math.max(1, ...routes.map((route) => route.energy_wh));
  const lastS = Math.max(...routes.map((route) => route.endS));
  let frame = null;

  const draw = () => {
    frame = gatheredFrame(container, highestWh, lastS);
    const drawing = svg("svg", { viewBox: `0 0 ${frame.width} ${frame.height}`, "aria-hidden": "true" });
    for (const [fromS, toS] of data.dark.map((span) => span.map((seconds) => Math.min(Math.max(seconds, 0), lastS)))) {
      drawing.append(svg("rect", { class: "night", x: frame.x(fromS), y: TOP, width: frame.x(toS) - frame.x(fromS), height: frame.foot - TOP }));
    }
    if (data.parting_s) {
      const [left, right] = data.parting_s.map(frame.x);
      drawing.append(svg("rect", { class: "parting", x: left, y: TOP, width: Math.max(1, right - left), height: frame.foot - TOP }));
    }
    drawing.append(...gatheredGrid(data, frame, lastS));
    for (const route of routes) {
      drawing.append(svg("path", { class: `route-${route.style}`, d: gatheredPath(route, frame) }));
    }
    for (const route of routes) {
      const [x, y] = [frame.x(Math.min(route.arrive_s, route.endS)), frame.y(route.gatheredWh(route.arrive_s))];
      drawing.append(svg("circle", { class: `arrived route-${route.style}`, cx: x.toFixed(1), cy: y.toFixed(1), r: 4.5 }));
    }
    drawing.append(...letters(routes, frame));
    container.replaceChildren(drawing);
  };

  return {
    draw,
    mark(seconds) {
      const drawing = container.firstChild;
      drawing.querySelectorAll(".mark, .dot").forEach((part) => part.remove());
      const x = frame.x(seconds).toFixed(1);
      drawing.append(svg("path", { class: "mark", d: `M${x} ${TOP - 4}V${frame.foot}` }));
      for (const route of routes) drawing.append(svg("circle", { class: "dot", cx: x, cy: frame.y(route.gatheredWh(seconds)).toFixed(1), r: 4.5 }));
    },
    onPoint(point) {
      const pointed = (event) => {
        const box = container.firstChild.getBoundingClientRect();
        point(frame.seconds(((event.clientX - box.left) / box.width) * frame.width));
      };
      container.addEventListener("pointermove", pointed);
      container.addEventListener("pointerdown", pointed);
    },
  };
}

function gatheredFrame(container, highestWh, lastS) {
  const width = Math.max(280, container.clientWidth);
  const height = width < NARROW ? 250 : 290;
  const foot = height - BOTTOM;
  const right = RIGHT + 22; // room for letters at the curves' ends
  const across = (width - LEFT - right) / Math.max(lastS, 1e-9);
  const topWh = highestWh * 1.05;
  return {
    width, height, foot, topWh,
    stepWh: roundStep(highestWh / (width < NARROW ? 3 : 4)),
    fromS: 0, toS: lastS,
    x: (seconds) => LEFT + seconds * across,
    seconds: (x) => (x - LEFT) / across,
    y: (wh) => foot - (wh / topWh) * (foot - TOP),
  };
}

function gatheredPath(route, frame) {
  const points = [];
  let lastX = -Infinity;
  for (let row = 0; row <= route.count; row += 1) {
    const x = frame.x(route.rows.start_s[row]);
    if (x - lastX < 0.8 && row < route.count) continue;
    points.push(`${x.toFixed(1)} ${frame.y(route.gatheredWh(route.rows.start_s[row])).toFixed(1)}`);
    lastX = x;
  }
  return `M${points.join("L")}`;
}

function gatheredGrid(data, frame, lastS) {
  const parts = [svg("text", { class: "end", x: LEFT - 7, y: TOP - 10 }, "Wh")];
  for (let wh = 0; wh <= frame.topWh + 1e-9; wh += frame.stepWh) {
    const y = frame.y(wh).toFixed(1);
    parts.push(svg("path", { class: wh ? "grid" : "base", d: `M${LEFT} ${y}H${frame.x(lastS).toFixed(1)}` }));
    parts.push(svg("text", { class: "end", x: LEFT - 7, y: Number(y) + 4 }, `${Number(wh.toFixed(3))}`));
  }
  const ticks = data.one_start ? clockTicks(clockOf(data), frame) : sinceTicks(frame);
  for (const [seconds, label] of ticks) {
    const x = frame.x(seconds).toFixed(1);
    parts.push(svg("path", { class: "grid", d: `M${x} ${TOP}V${frame.foot + 4}` }));
    parts.push(svg("text", { class: "middle", x, y: frame.foot + 19 }, label));
  }
  return parts;
}

function clockOf(data) {
  return {
    clock: (seconds) => clockText(localMinutes(data, seconds)),
    localS: (seconds) => data.departs_utc_s + seconds + 60 * offsetMin(data, seconds),
  };
}

// Routes that leave at different times share no clock: hours since each left.
function sinceTicks(frame) {
  const most = Math.max(2, (frame.width - LEFT) / 62);
  const stepS = CLOCK_STEPS_S.find((step) => frame.toS / step <= most) ?? CLOCK_STEPS_S.at(-1);
  const ticks = [];
  for (let seconds = 0; seconds <= frame.toS; seconds += stepS) ticks.push([seconds, sinceText(seconds)]);
  return ticks;
}

function sinceText(seconds) {
  return `${clockText(Math.round(seconds / 60)).replace(/^0/, "")} h`;
}

// Letters at the ends of the curves, moved apart where they would touch.
function letters(routes, frame) {
  const ends = routes
    .map((route) => ({ route, x: frame.x(route.endS), y: frame.y(route.energy_wh) }))
    .sort((a, b) => a.y - b.y);
  ends.forEach((end, number) => {
    const before = ends[number - 1];
    if (before && Math.abs(before.x - end.x) < 24 && end.y - before.y < 17) end.y = before.y + 17;
  });
  return ends.map(({ route, x, y }) => svg("text", { class: "letter", x: (x + 9).toFixed(1), y: (y + 5).toFixed(1) }, route.letter));
}

function readerOf(data, routes) {
  const lastS = Math.max(...routes.map((route) => route.endS));
  const list = document.querySelector(".here");
  const write = makeReading(list, [data.one_start ? "Time" : "Since leaving", ...routes.map((route) => `${route.letter} ${route.name}`), "Ahead"]);
  return (seconds) => {
    const gathered = routes.map((route) => route.gatheredWh(seconds));
    const order = routes.map((_, number) => number).sort((a, b) => gathered[b] - gathered[a]);
    const leadWh = gathered[order[0]] - gathered[order[1]];
    return write([
      data.one_start ? whenText(data, seconds, lastS) : sinceText(seconds),
      ...routes.map((route, number) => {
        const watts = seconds < route.endS ? `${readable(route.rows.power_w[route.rowAt(seconds)])} W` : "";
        return [`${readable(gathered[number])} Wh`, watts, seconds < route.arrive_s ? "" : "arrived"].filter(Boolean).join(", ");
      }),
      leadWh < 0.05 ? "–" : `${routes[order[0]].letter} by ${readable(leadWh)} Wh`,
    ]);
  };
}

function slideWithKeys(chartBox, lastS, state, mark) {
  chartBox.tabIndex = 0;
  const attributes = { role: "slider", "aria-label": "Time since leaving", "aria-valuemin": 0, "aria-valuemax": Math.round(lastS) };
  for (const [name, value] of Object.entries(attributes)) chartBox.setAttribute(name, value);
  chartBox.addEventListener("keydown", (event) => {
    const step = lastS / CHART_STEPS;
    const target = {
      ArrowRight: state.atS + step, ArrowUp: state.atS + step,
      ArrowLeft: state.atS - step, ArrowDown: state.atS - step,
      PageUp: state.atS + 10 * step, PageDown: state.atS - 10 * step,
      Home: 0, End: lastS,
    }[event.key];
    if (target === undefined) return;
    event.preventDefault();
    mark(target);
  });
}

start();
