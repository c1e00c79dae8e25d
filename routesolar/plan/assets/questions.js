// Further questions about the trip, each a tab: its fields, the command's answer, a bar and a row for each choice.

const PROGRESS_EVERY_MS = 400;

function makeQuestions(fields, view) {
  const tabs = [...document.querySelectorAll("[role=tab]")];
  const choose = (tab, isFocused) => {
    for (const one of tabs) {
      const isChosen = one === tab;
      one.setAttribute("aria-selected", String(isChosen));
      one.tabIndex = isChosen ? 0 : -1;
      document.getElementById(one.getAttribute("aria-controls")).hidden = !isChosen;
    }
    if (isFocused) tab.focus();
  };
  for (const tab of tabs) {
    tab.addEventListener("click", () => choose(tab));
    tab.addEventListener("keydown", (event) => {
      const by = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
      const end = { Home: 0, End: tabs.length - 1 }[event.key];
      if (by === undefined && end === undefined) return;
      event.preventDefault();
      choose(tabs[end ?? (tabs.indexOf(tab) + by + tabs.length) % tabs.length], true);
    });
  }
  let spot = "";
  const choices = {
    departures: { act: (label) => fields.leaveAt(label), chosen: () => fields.clock() },
    size: { act: (label) => fields.usePanel(label), chosen: () => "" },
    park: {
      act(label) {
        spot = label;
        view.chooseSpot(label);
      },
      chosen: () => spot,
      show(rows, choose) {
        spot = "";
        view.showSpots(rows, choose);
      },
    },
  };
  const asked = [...document.querySelectorAll("[data-question]")].map((panel) => makeQuestion(panel, fields, choices[panel.dataset.question] ?? {}));
  return { follow: () => asked.forEach((question) => question.follow()) };
}

// A choice may have what a click on a row does, which row is chosen, and where else rows are shown.
function makeQuestion(panel, fields, { act, chosen = () => "", show = () => {} }) {
  const name = panel.dataset.question;
  const button = panel.querySelector(".put");
  const wrong = element("p", "wrong");
  const [status, bars, more] = [element("p", "decision"), element("ol", `bars ${name}`), element("div", "more")];
  const doing = makeProgress();
  Object.assign(wrong, { id: `${name}-wrong`, role: "alert" });
  status.role = "status";
  bars.setAttribute("aria-label", document.getElementById(`tab-${name}`).textContent);
  panel.append(wrong, status, doing.box, bars, more);
  let [key, other] = ["", null];

  // Of the same trip; departures are, whenever it leaves on that day.
  const keyOf = (said) => {
    const depart = name === "departures" ? said.words.depart?.slice(0, 10) : said.words.depart;
    return JSON.stringify({ ...said, words: { ...said.words, depart } });
  };
  const clear = (words) => {
    key = "";
    status.textContent = words;
    bars.replaceChildren();
    more.replaceChildren();
    show(null);
  };
  const markChosen = () => {
    bars.querySelectorAll("button").forEach((bar) => bar.setAttribute("aria-pressed", String(bar.dataset.label === chosen())));
  };
  const choose = act && ((label) => {
    act(label);
    markChosen();
  });
  const put = async () => {
    const said = fields.said();
    const own = Object.fromEntries([...panel.querySelectorAll("[data-asked]")].map((field) => [field.dataset.asked, field.value.trim()]));
    clear("computing …");
    panel.dataset.asking = "yes";
    button.disabled = true;
    doing.begin();
    const hush = hearDoing(doing.tell, PROGRESS_EVERY_MS);
    const reply = await ask(`/decide/${name}`, { ...said, asked: { ...own, other } });
    hush();
    doing.end();
    button.disabled = name === "compare" && !other;
    panel.dataset.asking = "no";
    clear(reply.superseded ? "Set aside, because you asked for something newer." : reply.answer ?? "");
    showWrong(reply.wrong ? at(name, reply.wrong) : {});
    if (!reply.bars) return;
    key = keyOf(said);
    bars.replaceChildren(...barsOf(reply.bars, choose));
    show(reply.bars, choose);
    more.replaceChildren(...reply.remarks.map((words) => element("p", "", words)), ...notesOf(reply.warnings), tableOf(reply));
    markChosen();
  };
  button.addEventListener("click", put);
  panel.querySelector("#other-road")?.addEventListener("change", async ({ target }) => {
    const kept = await sendAll([...target.files], name);
    if (!kept) return;
    other = kept.filter((one) => ["route", "trip"].includes(one.kind)).map((one) => one.name);
    put();
  });

  return {
    // What was computed for another trip is taken away.
    follow() {
      if (key && keyOf(fields.said()) !== key) clear("");
      markChosen();
    },
  };
}

// What a long answer is at, how much is done and how long the rest takes; not read out, since it changes all the time.
function makeProgress() {
  const [box, bar, words] = [element("div", "doing"), element("progress"), element("span")];
  Object.assign(bar, { max: 1, ariaLabel: "How much is done" });
  box.append(bar, words);
  box.hidden = true;
  const tell = ({ what, words: at, done_frac: done, left_s: left }) => {
    if (what !== "decide") return say("waiting for what is being computed");
    if (!done) return say(at || "beginning");
    bar.value = done;
    const rest = left === null || left === undefined ? "" : `, ${left < 90 ? `${Math.ceil(left)} s` : `${Math.ceil(left / 60)} min`} left`;
    words.textContent = `${Math.round(100 * done)} % done${rest}`;
  };
  // While no share is known, the bar only shows that something is being done.
  const say = (at) => {
    bar.removeAttribute("value");
    words.textContent = `${at} …`;
  };
  return {
    box,
    tell,
    begin() {
      say("beginning");
      box.hidden = false;
    },
    end: () => (box.hidden = true),
  };
}

function barsOf(rows, choose) {
  const highestWh = Math.max(...rows.map((row) => row.energy_wh), 1e-9);
  return rows.map((row) => {
    const item = element("li");
    const bar = element(choose ? "button" : "div", row.note === "best" ? "bar-row best" : "bar-row");
    if (choose) {
      bar.type = "button";
      bar.dataset.label = row.label;
      bar.addEventListener("click", () => choose(row.label));
    }
    const filled = element("span", "bar");
    filled.style.width = `${(100 * row.energy_wh) / highestWh}%`;
    const room = element("span", "room");
    room.append(filled);
    const least = row.low_wh === null ? "" : `at least ${readable(row.low_wh)}`;
    bar.append(element("span", "label", row.label), room, element("strong", "", `${readable(row.energy_wh)} Wh`), element("span", "least", least), element("span", "note", row.note));
    bar.dataset.energy = row.energy_wh;
    item.append(bar);
    return item;
  });
}

function notesOf(warnings) {
  if (!warnings.length) return [];
  const list = element("ul", "notes");
  list.append(...warnings.map((words) => element("li", "", words)));
  return [list];
}

function tableOf({ header, cells }) {
  const details = element("details", "all-figures");
  const [box, table, head] = [element("div", "wide"), element("table"), element("tr")];
  head.append(...header.map((name) => Object.assign(element("th", "", name), { scope: "col" })));
  const rows = cells.map((row) => {
    const line = element("tr");
    line.append(...row.map((words) => element("td", "", words)));
    return line;
  });
  Object.assign(box, { tabIndex: 0, role: "region", ariaLabel: "All figures" });
  table.append(element("thead"), element("tbody"));
  table.firstChild.append(head);
  table.lastChild.append(...rows);
  box.append(table);
  details.append(element("summary", "", "All figures"), box);
  return details;
}
