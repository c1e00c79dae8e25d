// Room for labels on a map: none lies over another, and over the road only where nothing else is free.

const CELL = 6; // pixels of the grid that tells where the road runs

function roomOn(map, drives) {
  const size = map.getSize();
  const taken = [...map.getContainer().querySelectorAll(".leaflet-control, .degree:not(:empty)")].map((box) => boxIn(map, box));
  const road = new Set();
  for (const drive of drives) markRoad(map, drive, size, road);
  const boxAt = (at, [wide, high], [east, south]) => ({
    left: at.x + east - wide / 2, right: at.x + east + wide / 2, top: at.y + south - high / 2, bottom: at.y + south + high / 2,
  });
  const isFree = (box) =>
    box.left > 2 && box.top > 2 && box.right < size.x - 2 && box.bottom < size.y - 2 &&
    !taken.some((one) => one.left < box.right && box.left < one.right && one.top < box.bottom && box.top < one.bottom);
  return {
    isSeen: (at) => at.x > -4 && at.y > -4 && at.x < size.x + 4 && at.y < size.y + 4,
    take: (at, wideHigh) => taken.push(boxAt(at, wideHigh, [0, 0])),
    // The first place among those that hide least of the road; null where none is free.
    put(at, wideHigh, offsets, roadCost = 4, mostRoad = Infinity) {
      let best = null;
      let least = Infinity;
      offsets.forEach((offset, number) => {
        const box = boxAt(at, wideHigh, offset);
        if (!isFree(box)) return;
        const hidden = roadCost ? roadIn(road, box) : 0;
        if (hidden > mostRoad) return;
        const cost = roadCost * hidden + number * 0.5;
        if (cost < least) [best, least] = [{ offset, box }, cost];
      });
      if (best) taken.push(best.box);
      return best?.offset ?? null;
    },
  };
}

function boxIn(map, element) {
  const frame = map.getContainer().getBoundingClientRect();
  const box = element.getBoundingClientRect();
  return { left: box.left - frame.left - 3, right: box.right - frame.left + 3, top: box.top - frame.top - 3, bottom: box.bottom - frame.top + 3 };
}

const cellOf = (x, y) => Math.floor(x / CELL) * 8192 + Math.floor(y / CELL);

function markRoad(map, drive, size, road) {
  const isNear = (at) => at.x > -60 && at.y > -60 && at.x < size.x + 60 && at.y < size.y + 60;
  const place = containerPlaces(map, drive);
  for (const leg of drive.legs) {
    if (leg.stop) continue;
    for (let row = leg.first; row < leg.after; row += 1) {
      const from = place(row);
      if (!isNear(from)) continue;
      const to = drive.breaksAfter(row) ? from : place(Math.min(row + 1, drive.count - 1));
      const steps = Math.min(300, Math.max(1, Math.ceil(Math.hypot(to.x - from.x, to.y - from.y) / CELL)));
      for (let step = 0; step < steps; step += 1) {
        road.add(cellOf(from.x + (step / steps) * (to.x - from.x), from.y + (step / steps) * (to.y - from.y)));
      }
    }
  }
}

function roadIn(road, box) {
  let count = 0;
  for (let x = box.left - CELL / 2; x <= box.right + CELL / 2; x += CELL) {
    for (let y = box.top - CELL / 2; y <= box.bottom + CELL / 2; y += CELL) if (road.has(cellOf(x, y))) count += 1;
  }
  return count;
}

// Where rows start in the map's window, by the projection kept in `flat`.
function containerPlaces(map, { flat }) {
  const scale = map.getZoomScale(map.getZoom(), 0);
  const corner = map.project(map.containerPointToLatLng([0, 0]));
  return (row) => ({ x: flat.x[row] * scale - corner.x, y: flat.y[row] * scale - corner.y });
}

function ring(radii, count = 12) {
  return radii.flatMap((radius) =>
    Array.from({ length: count }, (_, number) => [radius * Math.cos((2 * Math.PI * number) / count), radius * Math.sin((2 * Math.PI * number) / count)]));
}

// Beside a place: right, left, above, beneath, and further off in the same order.
function beside(wide, gaps = [15, 26, 40]) {
  return gaps.flatMap((gap) => [
    [wide / 2 + gap, 0], [-wide / 2 - gap, 0], [0, -gap - 5], [0, gap + 5],
    [wide / 2 + gap * 0.7, -gap * 0.8], [wide / 2 + gap * 0.7, gap * 0.8], [-wide / 2 - gap * 0.7, -gap * 0.8], [-wide / 2 - gap * 0.7, gap * 0.8],
  ]);
}

// Asking for a style makes the browser compute all of them, so the letters are asked for once.
const measure = (() => {
  const pen = document.createElement("canvas").getContext("2d");
  let font = "";
  return (words) => {
    font ||= `600 12px ${getComputedStyle(document.body).fontFamily}`;
    pen.font = font;
    return pen.measureText(words).width + 4;
  };
})();

function shortened(words, most = 26) {
  return words.length <= most ? words : `${words.slice(0, most - 1).trimEnd()}…`;
}
