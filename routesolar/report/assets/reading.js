// What a page of one drive tells of a place on it.

const KEY_TITLES = { power: "Expected watts", loss: "Lost to shade, %", open: "Open sky watts" };

function highestRow(drive) {
  return drive.rows.power_w.reduce((best, watts, row, all) => (watts > all[best] ? row : best), 0);
}

function readingOf(drive) {
  const titles = ["Time", "Leg", `From start, ${drive.distance}`, "Expected", "Sun hidden / out", "Open sky", "Shade takes", "Sun’s height", "So far", ...(drive.rows.soc_pct ? ["Battery"] : [])];
  const list = document.querySelector(".reading");
  const write = makeReading(list, titles);
  const textsOf = (row) => {
    const { rows } = drive;
    return [
      ...placeTexts(drive, row),
      `${readable(rows.low_w[row])} / ${readable(rows.high_w[row])} W`,
      `${readable(rows.open_w[row])} W`,
      Number.isNaN(drive.values.loss[row]) ? "–" : `${drive.values.loss[row].toFixed(0)} %`,
      rows.sun_deg[row] > 0 ? `${rows.sun_deg[row].toFixed(0)}°` : "down",
      `${readable(drive.soFarWh[row + 1])} Wh`,
      ...(drive.rows.soc_pct ? [`${drive.rows.soc_pct[row].toFixed(0)} %`] : []),
    ];
  };
  const read = (row) => write(textsOf(row));
  read.keepHeight = () => keepHeight(list, write, longestNamed(drive).map(textsOf));
  return read;
}
