// Spots to park on the map: diamonds with the numbers of their rows, each a button that chooses its row.

function markSpots(leaflet, rows, choose) {
  const signs = rows.map((row) => {
    const icon = L.divIcon({ className: row.note === "best" ? "spot best" : "spot", html: `<span>${row.rank}</span>`, iconSize: [24, 24] });
    const marker = L.marker(row.place, { icon, pane: spotsPane(leaflet), riseOnHover: true, zIndexOffset: -10 * row.rank }).addTo(leaflet);
    const sign = marker.getElement();
    sign.setAttribute("aria-label", spotWords(row));
    sign.addEventListener("click", () => choose(row.label));
    sign.addEventListener("keydown", (event) => {
      if (event.key !== "Enter" && event.key !== " ") return;
      event.preventDefault();
      event.stopPropagation();
      choose(row.label);
    });
    return { row, marker, sign };
  });
  if (rows.length) leaflet.fitBounds(L.latLngBounds(rows.map((row) => row.place)).pad(0.3), { animate: false });
  return {
    choose(label) {
      for (const one of signs) {
        const isChosen = one.row.label === label;
        one.sign.setAttribute("aria-pressed", String(isChosen));
        one.marker.setZIndexOffset(isChosen ? 1000 : -10 * one.row.rank);
        if (isChosen) leaflet.panInside(one.marker.getLatLng(), { padding: [40, 40], animate: false });
      }
    },
    remove: () => signs.forEach(({ marker }) => marker.remove()),
  };
}

function spotsPane(leaflet) {
  if (!leaflet.getPane("spots")) leaflet.createPane("spots").style.zIndex = 640;
  return "spots";
}

const spotWords = (row) => `Parking ${row.label}: ${readable(row.energy_wh)} Wh${row.note ? `, ${row.note}` : ""}`;
