// The drive as the page's data has it: one entry a row (a stretch of road or time), and its legs.

function readDrive() {
  return driveFrom(readData());
}

function driveFrom(data) {
  const rows = {};
  for (const [name, packed] of Object.entries(data.rows)) rows[name] = unpacked(packed);
  const highestW = Math.max(1, ...[rows.high_w, rows.open_w].map((column) => column.reduce((a, b) => Math.max(a, b), 0)));
  return driveOf(data, rows, highestW);
}

// Rows may be written over afterwards, all at once; `retally` then adds up anew.
function driveOf(data, rows, highestW) {
  const count = rows.power_w.length;
  const values = { power: rows.power_w };
  if (rows.open_w) {
    values.open = rows.open_w;
    values.loss = rows.power_w.map((watts, row) => (rows.open_w[row] > 0 ? Math.max(0, 100 * (1 - watts / rows.open_w[row])) : NaN));
  }
  const soFarWh = new Float64Array(count + 1);
  const retally = () => {
    for (let row = 0; row < count; row += 1) {
      const hours = (rows.start_s[row + 1] - rows.start_s[row]) / 3600;
      soFarWh[row + 1] = soFarWh[row] + rows.power_w[row] * hours;
    }
  };
  retally();
  const ends = new Map(data.breaks.map(([row, latitude, longitude]) => [row, [latitude, longitude]]));
  const place = (row) => [rows.latitude_deg[row], rows.longitude_deg[row]];

  return {
    ...data,
    rows,
    count,
    values,
    highestW,
    soFarWh,
    retally,
    place,
    end: (row) => ends.get(row) ?? place(row + 1),
    breaksAfter: (row) => ends.has(row),
    legOf: (row) => data.legs.find((leg) => row < leg.after),
    middleS: (row) => (rows.start_s[row] + rows.start_s[row + 1]) / 2,
    rowAt: (seconds, first, after) => lastAtOrBelow(rows.start_s, seconds, first, after),
    classOf: (layer, row) => classOf(data.layers[layer], values[layer][row]),
    colour: (layer, index) => (index < 0 ? data.layers[layer].nothing : data.layers[layer].colours[index]),
    clock: (seconds) => clockText(localMinutes(data, seconds)),
    when: (seconds) => whenText(data, seconds, rows.start_s[count]),
    localS: (seconds) => data.departs_utc_s + seconds + 60 * offsetMin(data, seconds),
  };
}

// Exactly nothing, and what is not defined, have no class.
function classOf({ step, colours }, value) {
  if (!(value > 0)) return -1;
  return Math.min(Math.floor(value / step + 1e-9), colours.length - 1);
}

function lastAtOrBelow(sorted, value, first, after) {
  let low = first;
  let high = after - 1;
  while (low < high) {
    const middle = Math.ceil((low + high) / 2);
    if (sorted[middle] <= value) low = middle;
    else high = middle - 1;
  }
  return low;
}

function offsetMin({ utc_offsets_min: changes }, seconds) {
  return changes.filter(([from]) => from <= seconds).at(-1)?.[1] ?? changes[0][1];
}

function localMinutes(data, seconds) {
  return Math.round((data.departs_utc_s + seconds) / 60) + offsetMin(data, seconds);
}

// The clock, with the date where the drive spans several.
function whenText(data, seconds, lastS) {
  const [first, now, last] = [0, seconds, lastS].map((moment) => localMinutes(data, moment));
  const isOneDay = Math.floor(first / 1440) === Math.floor(last / 1440);
  return isOneDay ? clockText(now) : `${dayText(60 * now)} ${clockText(now)}`;
}

function clockText(minutes) {
  const ofDay = ((minutes % 1440) + 1440) % 1440;
  return `${String(Math.floor(ofDay / 60)).padStart(2, "0")}:${String(ofDay % 60).padStart(2, "0")}`;
}

const DAY_FORMAT = new Intl.DateTimeFormat("en-GB", { weekday: "short", day: "numeric", month: "short", timeZone: "UTC" });

function dayText(localS) {
  const parts = Object.fromEntries(DAY_FORMAT.formatToParts(new Date(localS * 1000)).map(({ type, value }) => [type, value]));
  return `${parts.weekday} ${parts.day} ${parts.month}`;
}
