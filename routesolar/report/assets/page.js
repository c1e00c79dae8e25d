// One drive, seen twice: what is pointed at on the map is marked on the chart, and the other way round.

const KEY_TITLES = { power: "Expected watts", loss: "Lost to shade", open: "Open sky watts" };

function start() {
  const drive = readDrive();
  const still = document.querySelector(".still");
  const container = map_drive.getContainer();
  document.querySelectorAll("[data-script]").forEach((part) => (part.hidden = false));
  document.querySelector(".views").classList.add("running");
  still.hidden = true;
  container.hidden = false;
  map_drive.invalidateSize();

  const map = makeMap(map_drive, drive);
  const chartBox = document.querySelector(".chart");
  const chart = makeChart(chartBox, drive);
  const read = makeReading(document.querySelector(".reading"), drive);
  const state = { row: highestRow(drive), leg: null, layer: "power" };
  const range = () => (state.leg ? [state.leg.first, state.leg.after] : [0, drive.count]);

  const mark = (row) => {
    state.row = row;
    map.mark(row, state.layer);
    chart.mark(row);
    announce(chartBox, drive, row, read(row));
  };
  const choose = (leg) => {
    state.leg = leg;
    const [first, after] = range();
    map.fit(first, after);
    chart.fit(first, after);
    markChosen(leg);
    mark(Math.min(Math.max(state.row, first), after - 1));
  };
  const show = (layer) => {
    state.layer = layer;
    map.show(layer);
    chart.show(layer);
    writeKey(drive, layer);
    mark(state.row);
  };

  makeLegChoices(drive, (leg, fromTable) => {
    choose(leg === state.leg ? null : leg);
    if (fromTable) document.querySelector(".views").scrollIntoView();
  });
  document.querySelectorAll("input[name=layer]").forEach((input) => input.addEventListener("change", () => show(input.value)));
  map.onPoint(mark, range);
  chart.onPoint(mark);
  useKeys(chartBox, drive, state, { range, mark, choose });
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => show(state.layer));
  // Paper shows the still map, which is of the whole drive's watts: the key and the chart must be too.
  let shown = null;
  window.addEventListener("beforeprint", () => {
    shown = { ...state };
    show("power");
    choose(null);
  });
  window.addEventListener("afterprint", () => {
    show(shown.layer);
    choose(shown.leg);
  });
  let width = 0;
  new ResizeObserver(() => {
    if (chartBox.clientWidth === width) return;
    width = chartBox.clientWidth;
    map.resized();
    chart.draw();
    chart.mark(state.row);
  }).observe(chartBox);

  map.show(state.layer);
  choose(null);
}

function highestRow(drive) {
  return drive.rows.power_w.reduce((best, watts, row, all) => (watts > all[best] ? row : best), 0);
}

function makeReading(list, drive) {
  const cells = ["Time", "Leg", `From start, ${drive.distance}`, "Expected", "Sun hidden / out", "Open sky", "Shade takes", "Sun’s height", "So far", ...(drive.rows.soc_pct ? ["Battery"] : [])].map((title) => {
    const box = element("div");
    const value = element("dd");
    box.append(element("dt", "", title), value);
    list.append(box);
    return value;
  });
  return (row) => {
    const { rows } = drive;
    const leg = drive.legOf(row);
    const texts = [
      drive.clock(drive.middleS(row)),
      `${leg.leg} ${leg.name}`,
      readable((rows.along_m[row] / 1000) * drive.distance_per_km),
      `${readable(rows.power_w[row])} W`,
      `${readable(rows.low_w[row])} / ${readable(rows.high_w[row])} W`,
      `${readable(rows.open_w[row])} W`,
      Number.isNaN(drive.values.loss[row]) ? "–" : `${drive.values.loss[row].toFixed(0)} %`,
      rows.sun_deg[row] > 0 ? `${rows.sun_deg[row].toFixed(0)}°` : "down",
      `${readable(drive.soFarWh[row + 1])} Wh`,
      ...(drive.rows.soc_pct ? [`${drive.rows.soc_pct[row].toFixed(0)} %`] : []),
    ];
    texts.forEach((words, number) => (cells[number].textContent = words));
    return texts;
  };
}

function announce(chartBox, drive, row, [time, leg, along, expected]) {
  chartBox.setAttribute("aria-valuenow", row);
  chartBox.setAttribute("aria-valuetext", `${time}, leg ${leg}, ${along} ${drive.distance}, ${expected}`);
}

function useKeys(chartBox, drive, state, { range, mark, choose }) {
  chartBox.tabIndex = 0;
  const attributes = { role: "slider", "aria-label": "Place along the drive", "aria-valuemin": 0, "aria-valuemax": drive.count - 1 };
  for (const [name, value] of Object.entries(attributes)) chartBox.setAttribute(name, value);
  const legStart = (by) => {
    const number = drive.legs.indexOf(drive.legOf(state.row)) + by;
    return drive.legs[Math.min(Math.max(number, 0), drive.legs.length - 1)].first;
  };
  chartBox.addEventListener("keydown", (event) => {
    const [first, after] = range();
    const step = Math.max(1, Math.round((after - first) / 120));
    const target = {
      ArrowRight: state.row + step, ArrowUp: state.row + step,
      ArrowLeft: state.row - step, ArrowDown: state.row - step,
      Home: first, End: after - 1,
      PageUp: legStart(1), PageDown: legStart(-1),
    }[event.key];
    if (target === undefined) return;
    event.preventDefault();
    mark(Math.min(Math.max(target, first), after - 1));
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && state.leg) choose(null);
  });
}

// A leg is chosen from the list above the map, or by its name in the table.
function makeLegChoices(drive, chosen) {
  const list = document.querySelector(".leg-choice");
  drive.legs.forEach((leg, number) => list.add(new Option(`${leg.leg} ${leg.name}`, number)));
  list.addEventListener("change", () => chosen(drive.legs[list.value] ?? null, false));
  document.querySelectorAll(".legs tbody .leg-name").forEach((label, number) => {
    const button = element("button", "", label.textContent);
    button.type = "button";
    button.addEventListener("click", () => chosen(drive.legs[number], true));
    label.replaceChildren(button);
  });
}

function markChosen(leg) {
  const chosen = leg === null ? "" : String(leg.leg - 1);
  document.querySelector(".leg-choice").value = chosen;
  document.querySelectorAll(".legs tbody tr").forEach((row, number) => {
    const isChosen = String(number) === chosen;
    row.classList.toggle("chosen", isChosen);
    row.querySelector("button").setAttribute("aria-pressed", String(isChosen));
  });
}

function writeKey(drive, layer) {
  const { step, colours, unit } = drive.layers[layer];
  const rows = colours.map((colour, index) => [colour, `${Number((step * index).toFixed(6))} to ${Number((step * (index + 1)).toFixed(6))} ${unit}`]);
  const items = [...rows.reverse(), [drive.nothing, "none"]].map(([colour, label]) => {
    const swatch = svg("svg", { viewBox: "0 0 24 12", "aria-hidden": "true" });
    swatch.append(svg("rect", { width: 24, height: 12, fill: colour }));
    const item = element("li");
    item.append(swatch, label);
    return item;
  });
  document.querySelector(".key ul").replaceChildren(...items);
  document.querySelector(".key-title").textContent = KEY_TITLES[layer];
}

start();
