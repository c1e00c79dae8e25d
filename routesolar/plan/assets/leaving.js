// When to leave: every departure of the day as a bar, which a click makes the trip's own.

function makeLeaving(fields) {
  const [button, answer, list] = [".try-day", ".leaving-answer", ".departures"].map((name) => document.querySelector(name));
  let asked = "";

  // Of the same trip, whenever it leaves on that day.
  const keyOf = (said) => JSON.stringify({ ...said, words: { ...said.words, depart: said.words.depart?.slice(0, 10) } });
  const markChosen = () => {
    list.querySelectorAll("button").forEach((bar) => bar.setAttribute("aria-pressed", String(bar.dataset.leave === fields.clock())));
  };
  const draw = (rows) => {
    const highestWh = Math.max(...rows.map((row) => row.energy_wh), 1e-9);
    list.replaceChildren(...rows.map((row) => {
      const item = element("li");
      const bar = element("button", row.is_best ? "best" : "");
      bar.type = "button";
      bar.dataset.leave = row.leave;
      const filled = element("span", "bar");
      filled.style.width = `${(100 * row.energy_wh) / highestWh}%`;
      const room = element("span", "room");
      room.append(filled);
      const note = row.is_best ? "best" : row.is_alike ? "alike" : "";
      bar.append(element("span", "leave", row.leave), room, element("strong", "", `${readable(row.energy_wh)} Wh`), element("span", "least", `at least ${readable(row.low_wh)}`), element("span", "note", note));
      bar.addEventListener("click", () => fields.leaveAt(row.leave));
      item.append(bar);
      return item;
    }));
    markChosen();
  };
  button.addEventListener("click", async () => {
    const said = fields.said();
    button.disabled = true;
    answer.textContent = "computing every departure …";
    const reply = await ask("/departures", said);
    button.disabled = false;
    answer.textContent = reply.answer ?? "";
    list.replaceChildren();
    showWrong(reply.wrong ? at("leaving", reply.wrong) : {});
    if (reply.wrong) return;
    asked = keyOf(said);
    draw(reply.rows);
  });

  return {
    // What was computed for another trip is taken away.
    follow() {
      if (asked && keyOf(fields.said()) !== asked) {
        asked = "";
        answer.textContent = "";
        list.replaceChildren();
      }
      markChosen();
    },
  };
}
