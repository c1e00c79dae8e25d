// What all pages with a map and a chart share: the values at a place, keys, the key of colours.

// The live map and all that needs a script take the place of the still map.
function comeAlive(map) {
  document.querySelectorAll("[data-script]").forEach((part) => (part.hidden = false));
  document.querySelector(".views").classList.add("running");
  document.querySelector(".still").hidden = true;
  map.getContainer().hidden = false;
  map.invalidateSize();
}

function onNewWidth(box, redraw) {
  let width = 0;
  new ResizeObserver(() => {
    if (box.clientWidth === width) return;
    width = box.clientWidth;
    redraw();
  }).observe(box);
}

// What is told first of a place on a drive: time, leg, distance and expected watts.
function placeTexts(drive, row) {
  const leg = drive.legOf(row);
  return [
    drive.when(drive.middleS(row)),
    `${leg.leg} ${leg.name}`,
    readable((drive.rows.along_m[row] / 1000) * drive.distance_per_km),
    `${readable(drive.rows.power_w[row])} W`,
  ];
}

// A list of named values; returns what writes them.
function makeReading(list, titles) {
  const cells = titles.map((title) => {
    const box = element("div", title === "Leg" ? "leg" : "");
    const value = element("dd");
    box.append(element("dt", "", title), value);
    list.append(box);
    return value;
  });
  return (texts) => {
    texts.forEach((words, number) => (cells[number].textContent = words));
    return texts;
  };
}

// The list becomes as high as any of these texts make it, so that other values move nothing beneath it.
function keepHeight(list, write, samples) {
  const shown = [...list.querySelectorAll("dd")].map((cell) => cell.textContent);
  list.style.minHeight = "";
  const heights = samples.map((texts) => write(texts) && list.offsetHeight);
  write(shown);
  list.style.minHeight = `${Math.max(0, ...heights)}px`;
}

// Rows of the legs whose names are longest.
function longestNamed(drive) {
  return [...drive.legs].sort((a, b) => b.name.length - a.name.length).slice(0, 6).map((leg) => leg.first);
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

function writeKey(drive, layer, title) {
  const { step, colours, unit } = drive.layers[layer];
  const rows = colours.map((colour, index) => [colour, `${Number((step * index).toFixed(6))} to ${Number((step * (index + 1)).toFixed(6))} ${unit}`]);
  const items = [...rows.reverse(), [drive.layers[layer].nothing, "none"]].map(([colour, label]) => {
    const swatch = svg("svg", { viewBox: "0 0 24 12", "aria-hidden": "true" });
    swatch.append(svg("rect", { width: 24, height: 12, fill: colour }));
    const item = element("li");
    item.append(swatch, label);
    return item;
  });
  document.querySelector(".key ul").replaceChildren(...items);
  document.querySelector(".key-title").textContent = title;
}
