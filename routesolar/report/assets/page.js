// One drive, seen twice: what is pointed at on the map is marked on the chart, and the other way round.

function start() {
  const drive = readDrive();
  comeAlive(map_drive);
  const map = makeMap(map_drive, drive);
  const chartBox = document.querySelector(".chart");
  const chart = makeChart(chartBox, drive);
  const read = readingOf(drive);
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
    map.show(state.layer);
    chart.fit(first, after);
    markChosen(leg);
    mark(Math.min(Math.max(state.row, first), after - 1));
  };
  const show = (layer) => {
    state.layer = layer;
    map.show(layer);
    chart.show(layer);
    writeKey(drive, layer, KEY_TITLES[layer]);
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
  onNewWidth(chartBox, () => {
    read.keepHeight();
    map.resized();
    chart.draw();
    chart.mark(state.row);
  });

  choose(null);
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

start();
