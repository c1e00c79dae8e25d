// The chart: watts along local time in the map's colours, the sun's height beneath.

const LEFT = 44;
const RIGHT = 10;
const TOP = 26;
const SUN_HEIGHT = 56;
const BOTTOM = 24;
const BATTERY_HEIGHT = 80; // where there is one
const MEANS = ["power_w", "open_w", "best_w", "sun_deg"];
const CLOCK_STEPS_S = [60, 300, 600, 900, 1800, 3600, 7200, 10800, 21600, 43200, 86400, 172800, 604800];

function makeChart(container, drive) {
  let range = [0, drive.count];
  let layer = "power";
  let frame = null;
  let width = 0; // asked for once a layout: to ask makes the browser lay out the page

  const draw = () => {
    width ||= container.clientWidth;
    frame = chartFrame(width, drive, range);
    const stretches = merged(drive, range, frame);
    const drawing = svg("svg", { viewBox: `0 0 ${frame.width} ${frame.height}`, "aria-hidden": "true" });
    drawing.append(
      ...darkParts(drive, frame),
      ...legParts(drive, range, frame),
      ...gridParts(drive, frame),
      ...bandParts(drive, stretches, frame),
      ...areaParts(drive, layer, stretches, frame),
      ...curveParts(drive, stretches, frame),
    );
    container.replaceChildren(drawing);
  };

  return {
    draw() {
      width = 0;
      draw();
    },
    // `rows` where others are to be shown than before.
    show(name, rows = range) {
      [layer, range] = [name, rows];
      draw();
    },
    fit(first, after) {
      range = [first, after];
      draw();
    },
    mark(row) {
      const drawing = container.firstChild;
      drawing.querySelectorAll(".mark, .dot").forEach((part) => part.remove());
      if (row < range[0] || row >= range[1]) return;
      const x = frame.x(drive.middleS(row)).toFixed(1);
      const watts = layer === "open" ? drive.rows.open_w[row] : drive.rows.power_w[row];
      drawing.append(
        svg("path", { class: "mark", d: `M${x} ${TOP - 4}V${frame.foot}` }),
        svg("circle", { class: "dot", cx: x, cy: frame.y(watts).toFixed(1), r: 5 }),
      );
    },
    onPoint(point) {
      const pointed = (event) => {
        const box = container.firstChild.getBoundingClientRect();
        const x = ((event.clientX - box.left) / box.width) * frame.width;
        point(drive.rowAt(frame.seconds(x), ...range));
      };
      container.addEventListener("pointermove", pointed);
      container.addEventListener("pointerdown", pointed);
    },
  };
}

function chartFrame(roomWide, drive, [first, after]) {
  const width = Math.max(280, roomWide);
  const battery = drive.rows.soc_pct ? BATTERY_HEIGHT : 0;
  const sun = drive.rows.sun_deg ? SUN_HEIGHT : 0;
  const height = (width < NARROW ? 250 : 300) + battery;
  const foot = height - BOTTOM;
  const base = foot - sun - battery;
  const [fromS, toS] = [drive.rows.start_s[first], drive.rows.start_s[after]];
  const stepW = roundStep(drive.highestW / (width < NARROW ? 3 : 4));
  const topW = drive.highestW * 1.05;
  const across = (width - LEFT - RIGHT) / Math.max(toS - fromS, 1e-9);
  return {
    width, height, base, foot, fromS, toS, stepW, topW,
    x: (seconds) => LEFT + (seconds - fromS) * across,
    seconds: (x) => fromS + (x - LEFT) / across,
    y: (watts) => base - (watts / topW) * (base - TOP),
    socY: (percent) => foot - (percent / 100) * (BATTERY_HEIGHT - 22),
    sunFoot: base + SUN_HEIGHT,
    sunY: (degrees) => base + SUN_HEIGHT - (Math.max(0, degrees) / 90) * (SUN_HEIGHT - 20),
  };
}

// Rows that fall on the same pixel become one: means over time, the band's outermost ends.
function merged(drive, [first, after], frame) {
  const { rows } = drive;
  const means = MEANS.filter((name) => rows[name]);
  const parts = [];
  let part = null;
  for (let row = first; row < after; row += 1) {
    const [fromS, toS] = [rows.start_s[row], rows.start_s[row + 1]];
    if (!part || frame.x(toS) - part.x0 > 1.2) {
      part = { x0: frame.x(fromS), spanS: 0, low: Infinity, high: -Infinity };
      for (const name of means) part[name] = 0;
      parts.push(part);
    }
    const spanS = Math.max(toS - fromS, 1e-6);
    const share = spanS / (part.spanS + spanS);
    part.spanS += spanS;
    part.x1 = frame.x(toS);
    for (const name of means) part[name] += share * (rows[name][row] - part[name]);
    part.soc = rows.soc_pct?.[row];
    part.socPoor = rows.soc_poor_pct?.[row];
    part.low = Math.min(part.low, rows.low_w?.[row]);
    part.high = Math.max(part.high, rows.high_w?.[row]);
  }
  return parts;
}

// Tenths of a pixel. Paths have thousands of them, and toFixed takes several times as long.
const tenths = (pixels) => Math.round(10 * pixels) / 10;

function stepPath(parts, y) {
  return parts.map((part, number) => `${number ? "L" : "M"}${tenths(part.x0)} ${tenths(y(part))}H${tenths(part.x1)}`).join("");
}

// Between sun hidden and sun out.
function bandParts(drive, parts, frame) {
  if (!drive.rows.low_w) return [];
  const back = [...parts].reverse().map((part) => `L${tenths(part.x1)} ${tenths(frame.y(part.low))}H${tenths(part.x0)}`);
  return [svg("path", { class: "band", d: `${stepPath(parts, (part) => frame.y(part.high))}${back.join("")}Z` })];
}

function curveParts(drive, parts, frame) {
  const curve = (name, y) => svg("path", { class: name, d: stepPath(parts, y) });
  const { rows } = drive;
  return [
    ...(rows.low_w ? [curve("low", (part) => frame.y(part.low))] : []),
    ...(rows.open_w ? [curve("open", (part) => frame.y(part.open_w))] : []),
    ...(rows.best_w ? [curve("best", (part) => frame.y(part.best_w))] : []),
    curve("power", (part) => frame.y(part.power_w)),
    ...(rows.sun_deg ? [curve("sun", (part) => frame.sunY(part.sun_deg))] : []),
    ...batteryParts(drive, parts, frame),
  ];
}

// What the layer is about, filled in its classes: the watts, the open sky, or what is missing between the two.
function areaParts(drive, layer, parts, frame) {
  const paths = new Map();
  for (const part of parts) {
    const lost = part.open_w > 0 ? 100 * Math.max(0, 1 - part.power_w / part.open_w) : NaN;
    const index = classOf(drive.layers[layer], { power: part.power_w, open: part.open_w, loss: lost }[layer]);
    const top = frame.y(layer === "power" ? part.power_w : part.open_w);
    const foot = layer === "loss" ? frame.y(part.power_w) : frame.base;
    const box = `M${tenths(part.x0)} ${tenths(foot)}V${tenths(top)}H${tenths(part.x1 + 0.3)}V${tenths(foot)}Z`;
    paths.set(index, (paths.get(index) ?? "") + box);
  }
  return [...paths].map(([index, d]) => svg("path", { d, fill: drive.colour(layer, index) }));
}

function gridParts(drive, frame) {
  const parts = [];
  for (let watts = 0; watts <= frame.topW + 1e-9; watts += frame.stepW) {
    const y = frame.y(watts).toFixed(1);
    parts.push(svg("path", { class: watts ? "grid" : "base", d: `M${LEFT} ${y}H${frame.width - RIGHT}` }));
    parts.push(svg("text", { class: "end", x: LEFT - 7, y: Number(y) + 4 }, `${Number(watts.toFixed(3))}`));
  }
  parts.push(svg("text", { class: "end", x: LEFT - 7, y: TOP - 10 }, "W"));
  const { foot } = frame;
  if (drive.rows.sun_deg) {
    for (const degrees of [0, 90]) parts.push(...scaleParts(frame, frame.sunY(degrees), `${degrees}°`, degrees === 0));
    parts.push(svg("text", { class: "axis", x: LEFT + 4, y: frame.sunY(90) - 5 }, "sun’s height"));
  }
  for (const [seconds, label] of clockTicks(drive, frame)) {
    const x = frame.x(seconds);
    parts.push(svg("path", { class: "grid", d: `M${x.toFixed(1)} ${TOP}V${foot + 4}` }));
    const middle = Math.min(x, frame.width - measure(label) / 2); // a label at the end stays within the drawing
    parts.push(svg("text", { class: "middle", x: middle.toFixed(1), y: foot + 19 }, label));
  }
  return parts;
}

// A line of an axis beneath the watts, with its figure.
function scaleParts(frame, y, label, isBase) {
  return [
    svg("path", { class: isBase ? "base" : "grid", d: `M${LEFT} ${y.toFixed(1)}H${frame.width - RIGHT}` }),
    svg("text", { class: "end", x: LEFT - 7, y: (y + 4).toFixed(1) }, label),
  ];
}

// Night, with the times at which the sun sets and rises where there is room.
function darkParts(drive, frame) {
  const parts = [];
  const right = frame.width - RIGHT;
  let free = LEFT;
  for (const [fromS, toS] of drive.dark ?? []) {
    const [from, to] = [Math.max(LEFT, frame.x(fromS)), Math.min(right, frame.x(toS))];
    if (to <= from) continue;
    parts.push(svg("rect", { class: "night", x: from.toFixed(1), y: TOP, width: (to - from).toFixed(1), height: frame.foot - TOP }));
    for (const [seconds, side, words] of [[fromS, -1, "sunset"], [toS, 1, "sunrise"]]) {
      const x = frame.x(seconds);
      if (seconds <= frame.fromS + 60 || seconds >= frame.toS - 60) continue;
      const label = `${words} ${drive.clock(seconds)}`;
      const wide = measure(label);
      const start = side < 0 ? x - 4 - wide : x + 4;
      if (start < free || start + wide > right) continue;
      parts.push(svg("text", { class: side < 0 ? "turn end" : "turn", x: x + 4 * side, y: TOP + 11 }, label));
      free = start + wide + 6;
    }
  }
  return parts;
}

// The battery at the end of each stretch, on the expected day and on the worst in ten.
function batteryParts(drive, parts, frame) {
  if (!drive.rows.soc_pct) return [];
  const reserve = drive.reserve_pct > 0 ? [svg("path", { class: "reserve", d: `M${LEFT} ${frame.socY(drive.reserve_pct).toFixed(1)}H${frame.width - RIGHT}` })] : [];
  const told = reserve.length ? `battery, reserve at ${drive.reserve_pct} %` : "battery";
  return [
    ...[0, 50, 100].flatMap((percent) => scaleParts(frame, frame.socY(percent), percent === 50 ? "50" : `${percent} %`, percent === 0)),
    ...reserve,
    svg("text", { class: "axis", x: LEFT + 4, y: frame.socY(100) - 5 }, told),
    svg("path", { class: "soc-poor", d: stepPath(parts, (part) => frame.socY(part.socPoor)) }),
    svg("path", { class: "soc", d: stepPath(parts, (part) => frame.socY(part.soc)) }),
  ];
}

function clockTicks(drive, frame) {
  const most = Math.max(2, (frame.width - LEFT) / 62);
  const stepS = CLOCK_STEPS_S.find((step) => (frame.toS - frame.fromS) / step <= most) ?? CLOCK_STEPS_S.at(-1);
  const shiftS = drive.localS(frame.fromS) - frame.fromS;
  const ticks = [];
  for (let localS = Math.ceil((frame.fromS + shiftS) / stepS) * stepS; ; localS += stepS) {
    // Where the clock was changed on the way, round times stand elsewhere.
    const seconds = 2 * localS - shiftS - drive.localS(localS - shiftS);
    if (seconds > frame.toS) return ticks;
    if (ticks.length && seconds <= ticks.at(-1)[0]) continue;
    const label = drive.clock(seconds);
    ticks.push([seconds, label === "00:00" ? dayText(localS) : label]);
  }
}

function legParts(drive, [first, after], frame) {
  const parts = [];
  for (const leg of drive.legs.filter((one) => one.first < after && one.after > first)) {
    const left = Math.max(LEFT, frame.x(drive.rows.start_s[leg.first]));
    const right = Math.min(frame.width - RIGHT, frame.x(drive.rows.start_s[leg.after]));
    if (leg.stop) parts.push(svg("rect", { class: "stop", x: left, y: TOP - 6, width: right - left, height: frame.foot - TOP + 6 }));
    if (right - left < 20) continue;
    const [x, y] = [(left + right) / 2, 12];
    const shape = leg.stop
      ? svg("rect", { x: x - 8.5, y: y - 8.5, width: 17, height: 17 })
      : svg("circle", { cx: x, cy: y, r: 9 });
    const group = svg("g", { class: leg.stop ? "number standing" : "number" });
    group.append(shape, svg("text", { class: "middle", x, y: y + 4 }, `${leg.leg}`));
    parts.push(group);
  }
  return parts;
}
