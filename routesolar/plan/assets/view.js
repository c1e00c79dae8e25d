// Map, chart and words of the answer. While the road stays the same its map stays too, and only colours change.

function makeView(onPlace, stretches) {
  const chartBox = document.querySelector(".chart");
  const drive = {}; // one and the same for chart and keys; its content is replaced
  const state = { row: 0, leg: null, layer: "power" };
  let [leaflet, map, chart, read, marking, road, key] = [null, null, null, null, null, "", ""];
  let [parking, spots] = [null, null]; // what is to be marked, and its marks
  const toggle = document.querySelector(".mark-stretch");
  const press = (isPressed) => {
    toggle.setAttribute("aria-pressed", String(isPressed));
    document.querySelector(".map-place").classList.toggle("marking", isPressed);
  };
  toggle.addEventListener("click", () => {
    press(toggle.getAttribute("aria-pressed") !== "true");
    if (toggle.getAttribute("aria-pressed") === "true") document.querySelector(".map").scrollIntoView({ block: "nearest" });
  });

  const mark = (row) => {
    state.row = Math.min(row, drive.count - 1);
    map.mark(state.row, state.layer);
    chart.mark(state.row);
    announce(chartBox, drive, state.row, read(state.row));
    onPlace(drive.rows.along_m[state.row]);
  };
  const show = (layer) => {
    state.layer = layer;
    map.show(layer);
    chart.show(layer, [0, drive.count]);
    const asked = JSON.stringify([layer, drive.layers[layer]]);
    if (asked !== key) writeKey(drive, layer, KEY_TITLES[layer]);
    key = asked;
    mark(state.row);
  };
  const layMap = (keepsView) => {
    const view = keepsView && leaflet ? [leaflet.getCenter(), leaflet.getZoom()] : null;
    leaflet?.remove();
    const place = element("div", "live");
    document.querySelector(".map-place").replaceChildren(place);
    leaflet = L.map(place, { zoomSnap: 0.25, preferCanvas: true, attributionControl: false, maxZoom: 18 });
    leaflet.setView(drive.place(0), 9, { animate: false });
    map = makeMap(leaflet, drive);
    map.fit(0, drive.count);
    if (view) leaflet.setView(...view, { animate: false });
    map.onPoint(mark, () => [0, drive.count]);
    marking = markStretches(leaflet, drive, () => toggle.getAttribute("aria-pressed") === "true", (fromM, toM) => {
      press(false);
      stretches.add(fromM, toM);
    });
    spots = null;
    layParking();
  };
  const layParking = () => {
    spots?.remove();
    spots = parking && markSpots(leaflet, parking.rows, parking.choose);
    spots?.choose(parking.chosen);
  };
  // With Shift held, keys on the chart mark a stretch; it is there once Shift is let go.
  const markByKeys = () => {
    let from = null;
    chartBox.addEventListener("keydown", (event) => {
      if (event.shiftKey && event.key !== "Shift") from ??= state.row;
    }, true);
    chartBox.addEventListener("keydown", () => from !== null && marking.show(from, state.row));
    chartBox.addEventListener("keyup", (event) => {
      if (event.key !== "Shift" || from === null) return;
      if (from !== state.row) marking.finish(from, state.row);
      from = null;
    });
  };
  const readAnew = () => {
    document.querySelector(".reading").replaceChildren();
    read = readingOf(drive);
    read.keepHeight();
    document.querySelector(".chart-key .soc").hidden = !drive.rows.soc_pct;
    chartBox.setAttribute("aria-valuemax", drive.count - 1);
  };
  document.querySelectorAll("input[name=layer]").forEach((radio) => radio.addEventListener("change", () => map && show(radio.value)));
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => map && show(state.layer));

  return {
    // Returns once map and chart show the drive; `pictures` are of trees and hills beneath it.
    show(data, isWhole) {
      const line = JSON.stringify([data.rows.latitude_deg.steps, data.rows.longitude_deg.steps]);
      const signs = JSON.stringify([data.legs.map(({ first, after, name, stop }) => [first, after, name, stop]), data.ground]);
      const isSame = road === line + signs;
      const isSameLine = road.startsWith(line.slice(0, 40));
      const hadBattery = Boolean(drive.rows?.soc_pct);
      const { flat, reserve_pct: reserve } = drive;
      const { soc_pct: soc, soc_poor_pct: poor } = drive.rows ?? {};
      Object.assign(drive, driveFrom(data), isSame ? { flat } : {});
      // So is the battery, which takes longer than the watts.
      const isPending = !isWhole && hadBattery && soc.length === drive.count;
      if (isPending) {
        Object.assign(drive.rows, { soc_pct: soc, soc_poor_pct: poor });
        drive.reserve_pct = reserve;
      }
      chartBox.classList.toggle("pending", isPending);
      document.querySelector(".views").classList.add("running");
      if (!chart) {
        chart = makeChart(chartBox, drive);
        chart.onPoint(mark);
        useKeys(chartBox, drive, state, { range: () => [0, drive.count], mark, choose: () => {} });
        markByKeys();
        onNewWidth(chartBox, () => {
          read?.keepHeight();
          map?.resized();
          chart.draw();
          chart.mark(state.row);
        });
      }
      if (!isSame) {
        layMap(isSameLine);
        road = line + signs;
      }
      if (!isSame || hadBattery !== Boolean(drive.rows.soc_pct)) readAnew();
      if (!isSameLine) state.row = highestRow(drive);
      show(state.layer);
      marking.draw(stretches.all());
    },
    // Marks spots to park, none without rows; `choose` hears of which one is clicked.
    showSpots(rows, choose) {
      parking = rows && { rows, choose, chosen: "" };
      layParking();
    },
    chooseSpot(label) {
      parking.chosen = label;
      spots.choose(label);
    },
    drawStretches: () => marking?.draw(stretches.all()),
    // A tenth of the road around the marked place, to be changed in the form.
    aroundHere() {
      const lengthM = drive.rows.along_m[drive.count - 1];
      const hereM = drive.rows.along_m[state.row];
      return [Math.max(0, hereM - lengthM / 20), Math.min(lengthM, hereM + lengthM / 20)];
    },
  };
}

// What is told comes as the written page's own words and tables; no script in it would run.
function showTold(html) {
  const made = document.createElement("template");
  made.innerHTML = html;
  document.querySelector(".answer-place").replaceChildren(...made.content.querySelector(".answer").childNodes);
  // While one drags, legs and days are those of the answer before, and look so.
  const [place, figures] = [document.querySelector(".figures-place"), made.content.querySelector(".figures")];
  place.classList.toggle("pending", !figures);
  if (figures) place.replaceChildren(...figures.childNodes);
}
