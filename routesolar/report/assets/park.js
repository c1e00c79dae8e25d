// Spots around a stop: what is pointed at on the map is told beneath it and found in the table.

function start() {
  const { spots, side } = readData();
  const place = document.querySelector(".place");
  const drawing = place.firstElementChild;
  document.querySelectorAll("[data-script]").forEach((part) => (part.hidden = false));
  document.querySelector(".views").classList.add("running");
  drawing.querySelector(".way")?.remove(); // the chosen spot has its own
  const titles = [...document.querySelectorAll(".rows thead th")].map((cell) => cell.textContent);
  const told = [...document.querySelectorAll(".rows tbody tr")].map((row) => [...row.cells].map((cell) => cell.textContent.trim()));
  const write = makeReading(document.querySelector(".here"), titles);
  const table = makeTable(spots.map((_, number) => number));
  let chosen = 0;

  const mark = (number) => {
    chosen = number;
    const texts = write(told[number]);
    table.mark(number);
    drawRing(drawing, spots[number], side);
    place.setAttribute("aria-valuenow", number + 1);
    place.setAttribute("aria-valuetext", texts.map((text, column) => `${titles[column]} ${text}`).join(", "));
  };

  const pointed = (event) => {
    const box = drawing.getBoundingClientRect();
    const [width, height] = [drawing.viewBox.baseVal.width, drawing.viewBox.baseVal.height];
    const scale = Math.min(box.width / width, box.height / height);
    const x = (event.clientX - box.left - (box.width - scale * width) / 2) / scale;
    const y = (event.clientY - box.top - (box.height - scale * height) / 2) / scale;
    const away = spots.map((spot) => Math.hypot(spot.x - x, spot.y - y));
    const nearest = away.indexOf(Math.min(...away));
    if (away[nearest] <= Math.max(side, 24)) mark(nearest);
  };
  place.addEventListener("pointermove", pointed);
  place.addEventListener("pointerdown", pointed);
  table.onChoose(mark);
  place.tabIndex = 0;
  const attributes = { role: "slider", "aria-label": "Spot, best first", "aria-valuemin": 1, "aria-valuemax": spots.length };
  for (const [name, value] of Object.entries(attributes)) place.setAttribute(name, value);
  place.addEventListener("keydown", (event) => {
    const target = {
      ArrowRight: chosen + 1, ArrowDown: chosen + 1,
      ArrowLeft: chosen - 1, ArrowUp: chosen - 1,
      Home: 0, End: spots.length - 1,
    }[event.key];
    if (target === undefined) return;
    event.preventDefault();
    mark(Math.min(Math.max(target, 0), spots.length - 1));
  });
  mark(0);
}

// A frame around the chosen spot, and the way to face there.
function drawRing(drawing, { x, y, heading_deg: heading }, side) {
  drawing.querySelector(".pointed")?.remove();
  const half = Math.max(side / 2, 11) + 2;
  const group = svg("g", { class: "pointed", transform: `translate(${x} ${y})` });
  const frame = { x: -half, y: -half, width: 2 * half, height: 2 * half };
  group.append(svg("rect", { class: "ring bed", ...frame }), svg("rect", { class: "ring", ...frame }));
  if (heading !== null) {
    const arrow = svg("g", { transform: `rotate(${heading})` });
    const d = `M0 ${-half}V${-half - 18}M-5 ${-half - 11}L0 ${-half - 19}L5 ${-half - 11}`;
    arrow.append(svg("path", { class: "nose bed", d }), svg("path", { class: "nose", d }));
    group.append(arrow);
  }
  drawing.append(group);
}

start();
