// Many departures of one drive: the slider chooses one, and map, chart, values and table follow.

const BARS_HEIGHT = 132;
const BARS_TOP = 20;
const BARS_FOOT = 20; // for the clock beneath
const THUMB = 26; // pixels: half of it lies beyond the first and the last place of the slider

function start() {
  const sweep = readSweep();
  const { drive } = sweep;
  comeAlive(map_drive);
  const map = makeMap(map_drive, drive);
  const chartBox = document.querySelector(".chart");
  const chart = makeChart(chartBox, drive);
  const slider = document.querySelector("input.departure");
  const bars = makeBars(document.querySelector(".bars"), sweep);
  const tell = tellerOf(sweep);
  const table = makeTable(sweep.order);
  const state = { departure: sweep.best, row: 0, leg: null };
  const range = () => [0, drive.count];

  const mark = (row) => {
    state.row = row;
    map.mark(row, "power");
    chart.mark(row);
    announce(chartBox, drive, row, tell.here(row));
  };
  const choose = (departure) => {
    state.departure = departure;
    table.mark(departure); // first, since it asks where its rows are
    sweep.choose(departure);
    slider.value = departure;
    tell.departure(departure, slider);
    sayInAddress(sweep.departures[departure].leave);
    bars.mark(departure);
    map.show("power");
    chart.fit(0, drive.count);
    mark(state.row);
  };

  const chooseSoon = onceAFrame(choose);
  slider.addEventListener("input", () => chooseSoon(Number(slider.value)));
  bars.onPoint(chooseSoon);
  table.onChoose(choose);
  document.querySelector("button.best").addEventListener("click", () => choose(sweep.best));
  document.querySelector("button.pin").addEventListener("click", () => {
    sweep.pin(state.departure);
    tell.pinned();
    choose(state.departure);
  });
  const byTime = sweep.departures.map((_, number) => number);
  document.querySelectorAll("input[name=order]").forEach((input) => input.addEventListener("change", () => {
    table.sort(input.value === "time" ? byTime : sweep.order);
    table.mark(state.departure);
  }));
  window.addEventListener("hashchange", () => choose(sweep.inAddress() ?? state.departure));
  map.onPoint(mark, range);
  chart.onPoint(mark);
  useKeys(chartBox, drive, state, { range, mark, choose: () => {} });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => choose(state.departure));
  // Paper shows the still map, which is of the best departure: all else must be too.
  let shown = null;
  window.addEventListener("beforeprint", () => {
    shown = state.departure;
    choose(sweep.best);
  });
  window.addEventListener("afterprint", () => choose(shown));
  onNewWidth(chartBox, () => {
    tell.keepHeight();
    map.resized();
    bars.draw();
    bars.mark(state.departure);
    chart.draw();
    chart.mark(state.row);
  });

  sweep.choose(sweep.best);
  state.row = drive.rows.power_w.reduce((best, watts, row, all) => (watts > all[best] ? row : best), 0);
  map.fit(0, drive.count);
  bars.draw();
  choose(sweep.inAddress() ?? sweep.best);
}

// The departures as the page's data has them; `choose` writes one of them over the drive's rows.
function readSweep() {
  const data = readData();
  const count = data.line.longitude_deg.steps.length;
  const bytes = bytesOf(data.watts.bytes);
  const rows = { start_s: new Float64Array(count + 1), power_w: new Float64Array(count), best_w: new Float64Array(count) };
  for (const [name, packed] of Object.entries(data.line)) rows[name] = unpacked(packed);
  const times = timesOf(data);
  const fill = (watts, departure) => {
    for (let row = 0; row < count; row += 1) {
      const level = bytes[departure * count + row];
      watts[row] = level ? (level - 0.5) * data.watts.quantum_w : 0;
    }
  };
  fill(rows.best_w, data.best); // what the chosen one is compared with, until another is pinned
  const highest = bytes.reduce((a, b) => Math.max(a, b), 1);
  const drive = driveOf(data, rows, highest * data.watts.quantum_w);
  return {
    drive,
    best: data.best,
    pinned: data.best,
    pin(departure) {
      this.pinned = departure;
      fill(rows.best_w, departure);
    },
    // The departure that a link names: #09:15.
    inAddress() {
      const found = data.departures.findIndex((one) => one.leave === decodeURIComponent(location.hash.slice(1)));
      return found < 0 ? null : found;
    },
    departures: data.departures,
    order: data.order,
    departsS: times.departsS,
    localS: (departure) => drive.localS(times.departsS[departure]),
    choose(departure) {
      fill(rows.power_w, departure);
      times.write(rows.start_s, departure);
      drive.retally();
      // Bytes are rounded; the sum is known exactly.
      const added = drive.soFarWh[count];
      const share = added > 0 ? data.departures[departure].energy_wh / added : 0;
      for (let row = 0; row <= count; row += 1) drive.soFarWh[row] *= share;
    },
  };
}

function bytesOf(text) {
  const letters = atob(text);
  const bytes = new Uint8Array(letters.length);
  for (let at = 0; at < letters.length; at += 1) bytes[at] = letters.charCodeAt(at);
  return bytes;
}

// A leg's pieces keep their shares of its time, however long a departure makes it.
function timesOf({ spans, legs }) {
  const endS = unpacked(spans.end_s);
  const departsS = unpacked(spans.departs_s);
  const legS = new Map(Object.entries(spans.leg_s).map(([leg, packed]) => [Number(leg), unpacked(packed)]));
  const write = (startS, departure) => {
    startS[0] = departsS[departure];
    legs.forEach((leg, number) => {
      const longestS = endS[leg.after - 1] - (endS[leg.first - 1] ?? 0);
      const stretch = legS.has(number) && longestS > 0 ? legS.get(number)[departure] / longestS : 1;
      for (let row = leg.first; row < leg.after; row += 1) {
        startS[row + 1] = startS[row] + stretch * (endS[row] - (endS[row - 1] ?? 0));
      }
    });
  };
  return { departsS, write };
}

// The address follows once the slider rests: browsers take long to change it.
const sayInAddress = (() => {
  let waiting = null;
  return (leave) => {
    clearTimeout(waiting);
    waiting = setTimeout(() => history.replaceState(null, "", `#${leave}`), 200);
  };
})();

function onceAFrame(act) {
  let waiting = null;
  return (value) => {
    if (waiting === null) {
      requestAnimationFrame(() => {
        const latest = waiting;
        waiting = null;
        act(latest);
      });
    }
    waiting = value;
  };
}

// What is told of the chosen departure, and of the place pointed at.
function tellerOf(sweep) {
  const { drive, departures, best } = sweep;
  const [chosenList, hereList] = [".chosen", ".here"].map((name) => document.querySelector(name));
  const hasCharge = departures.some((one) => one.charge !== null);
  const chosen = makeReading(chosenList, ["Arrive", "9 days in 10 at least", "Shade takes", ...(hasCharge ? ["Battery at the end"] : []), "Rank"]);
  const here = makeReading(hereList, ["Time", "Leg", `From start, ${drive.distance}`, "Expected here", `Leaving at ${departures[best].leave}`, "So far"]);
  const output = document.querySelector(".slide output");
  const textsOf = (row) => {
    const { rows } = drive;
    return [
      ...placeTexts(drive, row),
      `${readable(rows.best_w[row])} W`,
      `${readable(drive.soFarWh[row + 1])} Wh`,
    ];
  };
  return {
    departure(number, slider) {
      const one = departures[number];
      const pinned = departures[sweep.pinned];
      const lessWh = pinned.energy_wh - one.energy_wh;
      const apart = number === sweep.pinned ? "" : `, ${readable(Math.abs(lessWh))} Wh ${lessWh < 0 ? "more" : "less"} than ${pinned.leave}`;
      output.replaceChildren(element("strong", "", one.leave), " gives ", element("strong", "energy", one.energy), apart);
      slider.setAttribute("aria-valuetext", `${one.leave}, ${one.energy}`);
      chosen([one.arrive, one.least, one.shade, ...(hasCharge ? [one.charge ?? "–"] : []), `${one.rank} of ${departures.length}`]);
    },
    here: (row) => here(textsOf(row)),
    pinned() {
      const { leave } = departures[sweep.pinned];
      hereList.querySelectorAll("dt")[4].textContent = `Leaving at ${leave}`;
      document.querySelector(".best-departure").textContent = `leaving at ${leave}, at the same place`;
    },
    keepHeight: () => keepHeight(hereList, here, longestNamed(drive).map(textsOf)),
  };
}

// A bar a departure, above its place on the slider: driving, standing, and eight days in ten.
function makeBars(box, sweep) {
  const { departures } = sweep;
  const last = departures.length - 1;
  const highestWh = Math.max(1, ...departures.map((one) => one.high_wh));
  let across = null;

  const draw = () => {
    const width = Math.max(280, box.clientWidth);
    const step = last > 0 ? (width - THUMB) / last : 0;
    const x = (number) => (last > 0 ? THUMB / 2 + number * step : width / 2);
    const foot = BARS_HEIGHT - BARS_FOOT;
    const y = (wh) => foot - (wh / (1.04 * highestWh)) * (foot - BARS_TOP);
    const wide = Math.max(1, Math.min(0.66 * (step || 40), 40));
    across = { x, step, width };
    const drawing = svg("svg", { viewBox: `0 0 ${width} ${BARS_HEIGHT}`, "aria-hidden": "true" });
    drawing.append(...barNights(sweep, { x, foot }), ...barGrid(sweep, { x, y, width, foot, highestWh }));
    departures.forEach((one, number) => {
      const left = (x(number) - wide / 2).toFixed(1);
      const group = svg("g", { class: "bar" });
      if (one.alike) group.append(svg("rect", { class: "alike", x: (x(number) - step / 2).toFixed(1), y: BARS_TOP, width: (step + 0.3).toFixed(1), height: foot - BARS_TOP }));
      const part = (name, fromWh, toWh) => group.append(svg("rect", { class: name, x: left, y: y(toWh).toFixed(1), width: wide.toFixed(1), height: Math.max(0, y(fromWh) - y(toWh)).toFixed(1) }));
      part("driving", 0, one.driving_wh);
      part("stopped", one.driving_wh, one.energy_wh);
      group.append(svg("path", { class: "spread", d: `M${x(number).toFixed(1)} ${y(one.low_wh).toFixed(1)}V${y(one.high_wh).toFixed(1)}` }));
      drawing.append(group);
    });
    drawing.append(...drawing.querySelectorAll("text")); // figures over bars
    box.replaceChildren(drawing);
  };

  return {
    draw,
    mark(number) {
      const drawing = box.firstChild;
      drawing.querySelector(".chosen-bar")?.remove();
      drawing.querySelector(".bar.chosen")?.classList.remove("chosen");
      drawing.querySelectorAll(".bar")[number].classList.add("chosen");
      const x = across.x(number);
      drawing.append(svg("path", { class: "chosen-bar", d: `M${x - 6} ${BARS_TOP - 9}h12l-6 8z` }));
    },
    onPoint(choose) {
      const pointed = (event) => {
        if (event.type === "pointermove" && event.buttons === 0) return;
        const frame = box.firstChild.getBoundingClientRect();
        const x = ((event.clientX - frame.left) / frame.width) * across.width;
        const number = across.step ? Math.round((x - THUMB / 2) / across.step) : 0;
        choose(Math.min(Math.max(number, 0), last));
      };
      box.addEventListener("pointerdown", pointed);
      box.addEventListener("pointermove", pointed);
    },
  };
}

// Leaving at night: between departures time runs evenly.
function barNights({ drive, departsS }, { x, foot }) {
  const last = departsS.length - 1;
  const at = (seconds) => {
    const after = departsS.findIndex((one) => one >= seconds);
    if (after <= 0) return x(after < 0 ? last : 0);
    const share = (seconds - departsS[after - 1]) / (departsS[after] - departsS[after - 1]);
    return x(after - 1) + share * (x(after) - x(after - 1));
  };
  return (drive.dark ?? []).filter(([fromS, toS]) => toS > 0 && fromS < departsS[last]).map(([fromS, toS]) =>
    svg("rect", { class: "night", x: at(fromS).toFixed(1), y: BARS_TOP, width: Math.max(0, at(toS) - at(fromS)).toFixed(1), height: foot - BARS_TOP }));
}

function barGrid(sweep, { x, y, width, foot, highestWh }) {
  const stepWh = roundStep(highestWh / 2);
  const parts = [];
  for (let wh = 0; wh <= highestWh * 1.04; wh += stepWh) {
    parts.push(svg("path", { class: wh ? "grid" : "base", d: `M0 ${y(wh).toFixed(1)}H${width}` }));
    if (wh) parts.push(svg("text", { x: 0, y: (y(wh) - 4).toFixed(1) }, `${Number(wh.toFixed(3))} Wh`));
  }
  for (const [number, label] of barTicks(sweep, width)) {
    const side = x(number) < 24 ? "" : x(number) > width - 24 ? "end" : "middle";
    parts.push(svg("text", { class: side, x: side ? x(number).toFixed(1) : 0, y: foot + 15 }, label));
  }
  return parts;
}

// Round local times among the departures, as many as there is room for.
function barTicks({ departures, localS }, width) {
  const labelled = (numbers) => numbers.map((number) => [number, departures[number].leave]);
  const all = departures.map((_, number) => number);
  for (const stepS of CLOCK_STEPS_S.filter((step) => step >= 300)) {
    const round = all.filter((number) => localS(number) % stepS === 0);
    if (round.length > 1 && round.length * 56 <= width) return labelled(round);
  }
  return labelled(all.length > 1 ? [0, all.length - 1] : all);
}

start();
