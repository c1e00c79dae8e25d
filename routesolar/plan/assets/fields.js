// The form: what its fields say, in the words of the command line, and what a trip shows in them.

const DEFAULTS = { cover: 0, height: 15, width: 12 };

function makeFields(changed, drawStretches) {
  const at = (id) => document.getElementById(id);
  const [date, clock, minute] = ["date", "clock", "minute"].map(at);
  const touched = new Set();
  const stops = makeStops(document.querySelector("ul.stops"), () => touch("stops"));
  const loads = makeLoads(document.querySelector("ul.loads"), () => touch("rig"));
  const stretches = makeStretches(document.querySelector("ul.stretches"), () => {
    drawStretches();
    touch("stretches");
  });
  const files = makeFiles(document.querySelector("ul.files"), (use) => {
    if (use === "cover" || use === "height") touched.delete(use);
    tellTrees();
    if (trip) touch("files");
  });
  let trip = null; // as the server shows it
  let weather = null;
  let rigFile = null;
  let waiting = [];
  let drawn = ""; // the trees of the drawing

  const touch = (name, isDragging = false) => {
    touched.add(name);
    if ((name === "cover" || name === "height") && files.namesOf(name).length) {
      files.unuse(name);
      touched.add("files");
      tellTrees();
    }
    showValues();
    changed(isDragging);
  };
  const tellTrees = () => {
    const from = document.querySelector(".trees-from");
    const names = files.namesOf("cover", "height", "map");
    from.hidden = !names.length;
    from.textContent = "A slider that you move takes the place of what a file shows.";
  };
  const trees = () => Object.fromEntries(Object.keys(DEFAULTS).map((name) => [name, Number(at(name).value)]));
  const drawTrees = () => {
    const now = JSON.stringify(trees());
    if (now !== drawn) drawSection(document.querySelector(".section"), trees());
    drawn = now;
  };
  const showValues = () => {
    for (const name of Object.keys(DEFAULTS)) document.querySelector(`output[for=${name}]`).value = at(name).value;
    const shown = files.namesOf("cover", "height", "map");
    const isByFile = trees().cover === 0 && shown.length > 0;
    document.querySelector(".section").classList.toggle("by-file", isByFile);
    drawTrees();
    at("section-words").textContent = isByFile ? `Trees stand where ${shown.join(", ")} shows them.` : sectionWords(trees());
    minute.setAttribute("aria-valuetext", clock.value);
  };
  const showMinute = () => {
    const [hours, minutes] = clock.value.split(":").map(Number);
    if (Number.isFinite(minutes)) minute.value = 60 * hours + minutes;
  };
  const showRig = (fileWords) => {
    document.querySelector(".from-file").hidden = !fileWords;
    document.querySelector(".short-rig").hidden = Boolean(fileWords);
    document.querySelector(".rig-words").textContent = fileWords ?? "";
  };

  date.addEventListener("change", () => touch("depart"));
  clock.addEventListener("change", () => {
    showMinute();
    touch("depart");
  });
  minute.addEventListener("input", () => {
    clock.value = clockText(Number(minute.value));
    touch("depart", true);
  });
  minute.addEventListener("change", () => touch("depart"));
  for (const id of ["speed", "until"]) at(id).addEventListener("input", () => touch(id));
  for (const id of ["panel", "battery", "start", "engine"]) at(id).addEventListener("input", () => touch("rig"));
  at("kind").addEventListener("change", () => touch("rig"));
  for (const id of Object.keys(DEFAULTS)) {
    at(id).addEventListener("input", () => touch(id, true));
    at(id).addEventListener("change", () => touch(id));
  }
  document.querySelectorAll("input[name=sky]").forEach((radio) => radio.addEventListener("change", () => {
    weather = null;
    document.querySelector(".weather-name").textContent = "";
    touch("sky");
  }));
  document.querySelector(".add-load").addEventListener("click", () => loads.add());
  document.querySelector(".own-rig").addEventListener("click", () => {
    rigFile = null;
    showRig(null);
    at("panel").focus();
    touch("rig");
  });
  showValues();

  const skySaid = () => document.querySelector("input[name=sky]:checked")?.value ?? "";
  const rigSaid = () => ({
    panel: `${at("panel").value.trim()}W`,
    battery: at("battery").value.trim(),
    kind: at("kind").value,
    start: at("start").value.trim(),
    engine: at("engine").value.trim(),
    loads: loads.said(),
  });
  const wordsSaid = () => {
    const { cover, height, width } = trees();
    const said = {
      depart: `${date.value} ${clock.value}`,
      speed: speedSaid(at("speed").value.trim()),
      until: at("until").value.trim(),
    };
    const byTouch = { cover: ["canopy_cover", cover ? `${cover}` : ""], height: ["canopy_height", `${height}m`], width: ["road_width", `${width}m`] };
    const words = Object.fromEntries(Object.entries(said).filter(([name]) => touched.has(name)));
    for (const [name, [key, text]] of Object.entries(byTouch)) if (touched.has(name)) words[key] = text;
    return words;
  };

  return {
    stops,
    stretches,
    files,
    // What a trip or a track says; of the rest the page says its own defaults.
    show(shown) {
      trip = shown;
      touched.clear();
      weather = null;
      rigFile = null;
      const names = shown.route.join(", ");
      const title = names.startsWith(shown.title) ? "" : `: ${shown.title}`;
      document.querySelector(".opened").textContent = `${names}${title}, ${shown.points} points, ${shown.time_zone}`;
      [date.value, clock.value] = shown.depart ?? [date.value || shown.tomorrow, clock.value || "08:00"];
      if (!shown.depart) touched.add("depart");
      showMinute();
      const isPaced = shown.is_recorded || shown.is_place;
      at("speed").value = shown.speed ?? (isPaced ? "" : 70);
      at("speed").placeholder = shown.is_recorded ? "as recorded" : "";
      if (shown.speed === null && !isPaced) touched.add("speed");
      const usual = shown.is_recorded ? "Default: as the track was recorded." : "70 until you say; a track without times tells none.";
      at("speed-hint").textContent = `${usual} With a map, “map” takes its limits.`;
      at("until").value = shown.until ?? "";
      at("cover").value = shown.cover_pct ?? DEFAULTS.cover;
      at("height").value = shown.height_m ?? DEFAULTS.height;
      at("width").value = shown.width_m ?? DEFAULTS.width;
      files.set([...shown.files, ...waiting.filter((file) => !shown.files.some((one) => one.name === file.name))]);
      if (waiting.length) touched.add("files");
      waiting = [];
      stretches.set(shown.stretches);
      tellTrees();
      showSky(shown.sky);
      if (shown.rig === null) touched.add("rig");
      else showShortRig(shown.rig);
      showRig(shown.rig?.words);
      stops.set(shown.stops);
      showValues();
    },
    useRig(name) {
      rigFile = name;
      showRig(`Rig file ${name}`);
      touch("rig");
    },
    // Dropped before a route, they are used with the next one.
    useFile(file) {
      if (trip) files.add(file);
      else waiting.push(file);
    },
    usePanel(label) {
      at("panel").value = parseFloat(label);
      touch("rig");
    },
    useWeather(name) {
      weather = name;
      document.querySelectorAll("input[name=sky]").forEach((radio) => (radio.checked = false));
      document.querySelector(".weather-name").textContent = `Weather: ${name}.`;
      touch("sky");
    },
    said() {
      return {
        base: trip.base,
        words: wordsSaid(),
        sky: touched.has("sky") && !weather ? skySaid() : undefined,
        weather: weather ?? undefined,
        stops: touched.has("stops") ? stops.said() : undefined,
        stretches: touched.has("stretches") ? stretches.said() : undefined,
        files: touched.has("files") ? files.said() : undefined,
        rig: touched.has("rig") ? (rigFile ?? rigSaid()) : undefined,
      };
    },
    isReady: () => trip !== null,
    clock: () => clock.value,
    leaveAt(time) {
      clock.value = time;
      showMinute();
      touch("depart");
    },
  };

  function showSky(sky) {
    const keep = document.querySelector(".keep-sky");
    const radio = document.querySelector(`input[name=sky][value="${CSS.escape(sky.name ?? "")}"]`);
    const isOurs = Boolean(sky.name) && radio !== null;
    const isSilent = sky.name === "";
    keep.hidden = isOurs || isSilent;
    document.querySelector(".keep-words").textContent = sky.words ?? sky.name;
    (isOurs ? radio : isSilent ? document.querySelector("input[value=broken]") : keep.firstElementChild).checked = true;
    document.querySelector(".weather-name").textContent = "";
    if (isSilent) touched.add("sky");
  }

  function showShortRig(rig) {
    at("panel").value = rig.panel_w;
    for (const [id, value] of [["battery", rig.battery_wh], ["start", rig.start_pct], ["engine", rig.engine_w]]) at(id).value = value ?? "";
    at("kind").value = rig.kind ?? "lithium";
    loads.set(rig.loads ?? []);
    document.querySelector(".battery-part").open = Boolean(rig.battery_wh);
  }
}

const speedSaid = (text) => (text === "" || text === "map" ? text : `${text}km/h`);

// A message beside each field that is wrong, and none beside the others.
function showWrong(wrong) {
  const places = new Map([...document.querySelectorAll(".wrong[id]")].map((place) => [place.id.replace(/-wrong$/, ""), place]));
  const told = new Map([...places.keys()].map((name) => [name, ""]));
  for (const [name, words] of Object.entries(wrong)) {
    const place = places.has(name) ? name : "whole";
    told.set(place, [told.get(place), words].filter(Boolean).join("\n"));
  }
  for (const [name, place] of places) {
    if (place.textContent !== told.get(name)) place.textContent = told.get(name);
    for (const field of document.querySelectorAll(`[aria-describedby~="${place.id}"]`)) {
      if (told.get(name)) field.setAttribute("aria-invalid", "true");
      else field.removeAttribute("aria-invalid");
    }
  }
}
