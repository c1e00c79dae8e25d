// A table whose rows can be chosen.

// The table's rows, each with a button that chooses what it tells of; the chosen one is kept in sight.
// `order` has the thing of each row, by number.
function makeTable(order) {
  const rows = [...document.querySelectorAll(".rows tbody tr")];
  const box = document.querySelector(".scroll");
  for (const row of rows) {
    row.setAttribute("role", "row");
    for (const cell of row.cells) cell.setAttribute("role", cell.scope ? "rowheader" : "cell");
  }
  const buttons = rows.map((row) => {
    const button = element("button", "", row.firstElementChild.textContent);
    button.type = "button";
    row.firstElementChild.replaceChildren(button);
    return button;
  });
  const rowOf = [];
  order.forEach((thing, row) => (rowOf[thing] = row));
  let chosen = null;
  return {
    mark(thing) {
      const row = rowOf[thing];
      // All reading comes before all writing, so that the page is laid out once.
      const [top, high] = [rows[row].offsetTop, rows[row].offsetHeight];
      const [head, scrolled, room] = [box.querySelector("thead").offsetHeight, box.scrollTop, box.clientHeight];
      if (chosen !== null) {
        rows[chosen].classList.remove("chosen");
        buttons[chosen].removeAttribute("aria-current");
      }
      chosen = row;
      rows[row].classList.add("chosen");
      buttons[row].setAttribute("aria-current", "true");
      if (top - head < scrolled) box.scrollTop = top - head;
      else if (top + high > scrolled + room) box.scrollTop = top + high - room;
    },
    // The things in another order; each keeps its row.
    sort(things) {
      rows[0].parentNode.append(...things.map((thing) => rows[rowOf[thing]]));
    },
    onChoose(choose) {
      rows.forEach((row, number) => row.addEventListener("click", () => choose(order[number])));
    },
  };
}
