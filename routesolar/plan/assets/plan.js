// The page: files come in, fields say, the server answers, and the newest answer is shown.

const REST_MS = 300; // after the last of a drag's quick answers the whole one is asked for
const SLOW_MS = 500;
const VERY_SLOW_MS = 6_000;
const DOING_EVERY_MS = 1_500;

function start() {
  const busy = document.querySelector(".busy");
  const hereWords = document.querySelector(".here-words");
  let [hereM, still] = [0, ""];
  const asker = makeAsker((said) => ask("/answer", said), show);
  const glance = document.querySelector(".glance");
  const fields = makeFields((isDragging) => fields.isReady() && asker.want(() => fields.said(), isDragging), () => view.drawStretches());
  const view = makeView((alongM) => {
    hereM = alongM;
    hereWords.textContent = `${(alongM / 1000).toFixed(1)} km from the start:`;
  }, fields.stretches);
  const questions = makeQuestions(fields, view);

  function show(reply) {
    busy.textContent = "";
    const isRight = !reply.wrong;
    document.querySelectorAll("button.save, button.results").forEach((button) => (button.disabled = !isRight));
    showWrong(reply.wrong ?? {});
    document.querySelector(".answered").classList.toggle("outdated", !isRight);
    if (!isRight) {
      glance.textContent = "Not answered: see the answer before";
      busy.textContent = document.querySelector(".answered").hidden ? "" : "What you see is the answer before that.";
      return;
    }
    document.querySelector(".start-words").hidden = true;
    document.querySelectorAll(".mark-stretch, .add-stretch").forEach((button) => (button.disabled = false));
    document.querySelector(".answered").hidden = false;
    document.querySelector(".answered").dataset.energy = reply.energy_wh;
    document.querySelector(".answered").dataset.whole = reply.is_whole;
    document.querySelector(".credits").textContent = reply.credits;
    if (reply.still !== still) document.querySelector(".still").innerHTML = reply.still; // trees and hills, where the map finds them
    still = reply.still;
    showTold(reply.told);
    view.show(reply.data, reply.is_whole);
    questions.follow();
    glance.hidden = false;
    glance.textContent = `${readable(reply.energy_wh)} Wh: see the map`;
  }

  const open = async (base) => {
    const shown = await ask("/open", { base });
    if (shown.wrong) return showWrong(at("drop", shown.wrong));
    showWrong({});
    fields.show(shown);
    asker.want(() => fields.said(), false);
  };
  takeFiles(open, fields);
  const saved = document.getElementById("saved");
  saved.addEventListener("change", () => saved.value && open([saved.value]));
  document.querySelector(".add-stop").addEventListener("click", () => fields.stops.add(`${(hereM / 1000).toFixed(2)}km`, document.getElementById("minutes").value.trim()));
  document.querySelector(".add-stretch").addEventListener("click", () => fields.stretches.add(...view.aroundHere()));
  takeAway(fields);
  document.querySelector("form.said").addEventListener("submit", (event) => event.preventDefault());
  stayAlive();
  // The glance is for where the answer is out of sight.
  new IntersectionObserver(([seen]) => glance.classList.toggle("spared", seen.isIntersecting)).observe(document.querySelector(".seen"));
}

// Messages that have no field of their own stand at this one.
function at(field, wrong) {
  return Object.fromEntries(Object.entries(wrong).map(([name, words]) => [name || field, words]));
}

// One quick question at a time while something is dragged, always the newest; then the whole one.
function makeAsker(answer, show) {
  const [busy, seen, glance] = [".busy", ".seen", ".glance"].map((name) => document.querySelector(name));
  let [number, running, wanted, resting] = [0, false, null, null];

  const put = async ({ saidNow, quick }) => {
    const mine = (number += 1);
    running = quick;
    seen.dataset.asking = "yes";
    const tell = (words) => () => {
      if (mine !== number) return;
      busy.textContent = words;
      glance.textContent = "computing …";
    };
    const slow = [
      setTimeout(tell("computing sun, shade and power …"), SLOW_MS),
      setTimeout(tell("computing sun, shade and power … the very first time takes half a minute"), VERY_SLOW_MS),
    ];
    // A large map takes a while to read: the server says what it is at.
    const hush = hearDoing(({ words }) => words && tell(`${words} …`)(), DOING_EVERY_MS);
    const reply = await answer({ ...saidNow(), quick });
    slow.forEach(clearTimeout);
    hush();
    if (mine !== number) return;
    running = false;
    // An older one may arrive at the server after this one, and take its place there: it is asked again.
    if (reply.superseded && !wanted) {
      resting = setTimeout(() => put({ saidNow, quick }), REST_MS);
      return;
    }
    seen.dataset.asking = "no";
    // The next one is on its way while this one is drawn.
    if (wanted) {
      const next = wanted;
      wanted = null;
      put(next);
    } else if (quick) {
      resting = setTimeout(() => put({ saidNow, quick: false }), REST_MS);
    }
    if (!reply.superseded) show(reply);
  };
  return {
    want(saidNow, isDragging) {
      clearTimeout(resting);
      if (isDragging && running) wanted = { saidNow, quick: true };
      else if (isDragging) put({ saidNow, quick: true });
      else {
        wanted = null;
        put({ saidNow, quick: false });
      }
    },
  };
}

// Files are dropped anywhere on the page, or chosen.
function takeFiles(open, fields) {
  const field = document.querySelector(".drop input");
  const drop = document.querySelector(".drop");
  const take = async (files) => {
    const kept = await sendAll(files);
    if (!kept) return;
    const named = (kind) => kept.filter((one) => one.kind === kind).map((one) => one.name);
    const [trip] = named("trip");
    const routes = named("route");
    if (trip) await open([trip]);
    else if (routes.length) await open(routes);
    if (!trip) kept.filter((one) => ["raster", "map"].includes(one.kind)).forEach(fields.useFile);
    if (!fields.isReady()) return showWrong({ drop: "Kept. Now drop a route: a GPX track, or a trip file." });
    if (!trip && named("rig").length) fields.useRig(named("rig")[0]);
    if (!trip && named("weather").length) fields.useWeather(named("weather")[0]);
  };
  field.addEventListener("change", async () => {
    await take([...field.files]);
    field.value = "";
  });
  document.addEventListener("dragover", (event) => {
    event.preventDefault();
    drop.classList.add("over");
  });
  document.addEventListener("dragleave", () => drop.classList.remove("over"));
  document.addEventListener("drop", (event) => {
    event.preventDefault();
    drop.classList.remove("over");
    take([...event.dataTransfer.files]);
  });
}

function takeAway(fields) {
  const name = document.getElementById("name");
  const replace = document.getElementById("replace");
  const taken = document.querySelector(".taken");
  const write = async (address, tell) => {
    taken.replaceChildren("writing …");
    const reply = await ask(address, { ...fields.said(), name: name.value.trim(), replace: replace.checked });
    taken.replaceChildren();
    showWrong(reply.wrong ? at("take", reply.wrong) : {});
    if (!reply.wrong) tell(reply);
  };
  document.querySelector(".save").addEventListener("click", () => write("/save", ({ written, trips }) => {
    taken.textContent = `Written: ${written.join(" and ")}. Open it again at the top of this page; on the command line: routesolar harvest ${written[0]}`;
    const saved = document.getElementById("saved");
    saved.replaceChildren(new Option("choose", ""), ...trips.map((trip) => new Option(trip)));
    document.querySelector(".saved-trips").hidden = false;
  }));
  document.querySelector(".results").addEventListener("click", () => write("/results", ({ folder, files }) => {
    taken.append(`Written into ${folder}: `);
    for (const file of files) {
      const link = element("a", "", file);
      link.href = `/results/${encodeURIComponent(folder)}/${encodeURIComponent(file)}`;
      link.download = file;
      taken.append(link, " ");
    }
  }));
}

start();
