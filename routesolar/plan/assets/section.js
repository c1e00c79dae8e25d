// The road cut across, to scale: how wide it opens, how tall the trees are, how much their crowns cover.

const NEAREST = 6.5; // units of the drawing for a metre; wide roads and tall trees shrink it
const GROUND_Y = 118;
const ROAD_M = 7;
const CROWN_BASE = 0.3; // where crowns begin, as a share of the height
const TREE_EVERY_M = 7;

function drawSection(drawing, { cover, height, width }) {
  const middle = 150;
  const scale = Math.min(NEAREST, (GROUND_Y - 8) / height, (2 * middle) / (width + 24));
  const ground = svg("path", { class: "soil", d: `M0 ${GROUND_Y}H300V130H0Z` });
  const road = svg("path", { class: "tarmac", d: `M${middle - (ROAD_M / 2) * scale} ${GROUND_Y}h${ROAD_M * scale}v3h${-ROAD_M * scale}z` });
  const parts = [ground, road, ...van(middle + 1.75 * scale, scale)];
  if (cover > 0) {
    for (const side of [-1, 1]) {
      for (let along = width / 2; along * scale < middle; along += TREE_EVERY_M) parts.push(tree(middle, side, along, { cover, height, scale }));
    }
  }
  const y = GROUND_Y + 7;
  const [left, right] = [middle - (width / 2) * scale, middle + (width / 2) * scale];
  if (width > 0) parts.push(svg("path", { class: "measure", d: `M${left} ${y - 3}v6M${right} ${y - 3}v6M${left} ${y}H${right}` }));
  drawing.replaceChildren(...parts);
}

// A crown's inner edge stands at half the width; its own width grows with the cover.
function tree(middle, side, along, { cover, height, scale }) {
  const wide = Math.max(1, Math.sqrt(cover / 100) * TREE_EVERY_M);
  const x = middle + side * (along + wide / 2) * scale;
  const [top, base] = [GROUND_Y - height * scale, GROUND_Y - CROWN_BASE * height * scale];
  const group = svg("g", { class: "tree" });
  group.append(
    svg("path", { class: "trunk", d: `M${x} ${GROUND_Y}V${(top + base) / 2}` }),
    svg("ellipse", { class: "crown", cx: x, cy: (top + base) / 2, rx: (wide / 2) * scale, ry: (base - top) / 2 }),
  );
  return group;
}

function van(x, scale) {
  const [wide, high] = [2 * scale, 2.4 * scale];
  return [
    svg("rect", { class: "van", x: x - wide / 2, y: GROUND_Y - high, width: wide, height: high - 0.3 * scale, rx: 0.3 * scale }),
    svg("path", { class: "panel", d: `M${x - wide / 2} ${GROUND_Y - high - 1}h${wide}` }),
  ];
}

function sectionWords({ cover, height, width }) {
  if (!cover) return "An open road: no trees.";
  return `Trees ${height} m high whose crowns cover ${cover} % of the ground, ${width} m apart over the road.`;
}
