// Stretches of the road with trees of their own: a list in the form, marked by dragging along the road.

const GRASP_PX = { mouse: 13, touch: 36, pen: 20 }; // from the road, within which a drag takes hold of it
const LEAST_DRAG_PX = 8; // less is a click

const letterOf = (number) => String.fromCharCode(65 + (number % 26)) + (number < 26 ? "" : Math.floor(number / 26) + 1);

function makeStretches(list, changed) {
  let stretches = [];
  const draw = () => list.replaceChildren(...stretches.map(row));
  const row = (stretch, number) => {
    const letter = letterOf(number);
    const item = element("li");
    item.append(element("span", "letter", letter));
    const fields = [["from", "From", "km"], ["to", "To", "km"], ["cover", "Cover", "%"], ["height", "Height", "m"], ["width", "Width", "m"]];
    for (const [key, title, unit] of fields) {
      const cell = element("span", key);
      const field = input(`stretch-${key}-${number}`, stretch[key]);
      const label = element("label", "", title);
      label.htmlFor = field.id;
      label.append(" ", element("span", "unit", unit));
      field.setAttribute("aria-label", `Stretch ${letter}, ${title.toLowerCase()}, ${unit}`);
      field.setAttribute("aria-describedby", "stretches-wrong");
      if (!["from", "to"].includes(key)) field.placeholder = "as all";
      field.addEventListener("input", () => {
        stretch[key] = field.value.trim();
        changed();
      });
      cell.append(label, field);
      item.append(cell);
    }
    const [tick, box] = [element("label", "tick"), element("input")];
    Object.assign(box, { type: "checkbox", checked: stretch.roofed });
    box.addEventListener("change", () => {
      stretch.roofed = box.checked;
      changed();
    });
    tick.append(box, " under a roof");
    item.append(tick, remover(`Remove stretch ${letter}`, () => {
      stretches = stretches.filter((one) => one !== stretch);
      draw();
      changed();
    }));
    return item;
  };
  return {
    // Those of an opened trip are kept by their number there.
    set(shown) {
      stretches = shown.map((stretch, keep) => ({ ...stretch, keep }));
      draw();
    },
    add(fromM, toM) {
      const [from, to] = [fromM, toM].map((metres) => (metres / 1000).toFixed(2));
      stretches = [...stretches, { from, to, cover: "", height: "", width: "", roofed: false }];
      draw();
      changed();
      list.querySelector("li:last-child .cover input").focus();
    },
    all: () => stretches,
    said: () => stretches.map((stretch) => ({ ...stretch })),
  };
}

// Stretches on the map, under the road and beside it, and the drag that makes a new one.
function markStretches(leaflet, drive, isAsked, done) {
  const container = leaflet.getContainer();
  leaflet.createPane("stretches").style.zIndex = 390;
  const renderer = L.svg({ pane: "stretches", padding: 0.5 });
  const [drawn, pending] = [L.layerGroup().addTo(leaflet), L.layerGroup().addTo(leaflet)];
  const lineOf = (first, last) => {
    const places = drive.flat.starts.slice(first, last + 1).concat(drive.flat.ends[last]);
    return L.polyline(places, { renderer, pane: "stretches", className: "stretch", interactive: false });
  };
  const rowsOf = (fromM, toM) => {
    const row = (metres) => lastAtOrBelow(drive.rows.along_m, metres, 0, drive.count);
    return [row(fromM), Math.max(row(fromM), row(toM - 1e-6))];
  };
  const near = (event, [first, after]) => {
    const row = nearestRow(leaflet, drive.flat, leaflet.mouseEventToLatLng(event), [Math.max(0, first), Math.min(drive.count, after)]);
    return row;
  };
  const away = (event, row) => leaflet.latLngToContainerPoint(drive.place(row)).distanceTo(leaflet.mouseEventToContainerPoint(event));
  let drag = null;

  container.addEventListener("pointerdown", (event) => {
    const isTouch = event.pointerType !== "mouse";
    if (event.button !== 0 || !event.isPrimary || event.target.closest(".leaflet-control, .spot") || (isTouch && !isAsked())) return;
    const row = near(event, [0, drive.count]);
    if (row === null || (!isAsked() && away(event, row) > GRASP_PX[event.pointerType])) return;
    leaflet.dragging.disable();
    drag = { from: row, to: row, x: event.clientX, y: event.clientY, isLong: false };
  }, true);
  // Where the road comes by twice, the drag stays on the part that it began on.
  const onMove = (event) => {
    if (!drag) return;
    const reach = Math.ceil(drive.count / 6);
    drag.to = near(event, [drag.to - reach, drag.to + reach + 1]) ?? drag.to;
    drag.isLong ||= Math.hypot(event.clientX - drag.x, event.clientY - drag.y) > LEAST_DRAG_PX;
    if (drag.isLong) show(drag.from, drag.to);
  };
  const onUp = (event) => {
    if (!drag) return;
    const { from, to, isLong } = drag;
    drag = null;
    pending.clearLayers();
    if (!matchMedia("(pointer: coarse)").matches) leaflet.dragging.enable();
    if (isLong && event.type === "pointerup" && from !== to) finish(from, to);
  };
  const abort = new AbortController();
  document.addEventListener("pointermove", onMove, { signal: abort.signal });
  for (const name of ["pointerup", "pointercancel"]) document.addEventListener(name, onUp, { signal: abort.signal });
  leaflet.on("unload", () => abort.abort());
  const show = (from, to) => pending.clearLayers().addLayer(lineOf(Math.min(from, to), Math.max(from, to)));
  const finish = (from, to) => {
    pending.clearLayers();
    done(drive.rows.along_m[Math.min(from, to)], drive.rows.along_m[Math.max(from, to)]);
  };

  return {
    draw(stretches) {
      drawn.clearLayers();
      stretches.forEach((stretch, number) => {
        const [fromM, toM] = [stretch.from, stretch.to].map((km) => 1000 * Number(String(km).replace(",", ".")));
        if (!(fromM < toM) || fromM >= drive.rows.along_m[drive.count - 1]) return;
        const [first, last] = rowsOf(fromM, toM);
        const icon = L.divIcon({ className: "stretch-letter", html: letterOf(number), iconSize: [20, 20], iconAnchor: [11, 34] });
        drawn.addLayer(lineOf(first, last)).addLayer(L.marker(drive.place(Math.floor((first + last) / 2)), { icon, interactive: false, keyboard: false }));
      });
    },
    show,
    finish,
  };
}
