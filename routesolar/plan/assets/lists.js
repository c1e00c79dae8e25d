// Lists that grow on demand: stops along the road, loads of the battery.

function makeStops(list, changed) {
  let stops = [];
  const hint = document.querySelector(".stops-hint");
  const draw = () => {
    list.replaceChildren(...stops.map((stop, number) => row(stop, number)));
    hint.hidden = false;
  };
  const row = (stop, number) => {
    const item = element("li");
    const label = element("label", "", `At ${stop.at}`);
    label.htmlFor = `stop-${number}`;
    item.append(label);
    if (stop.until && stop.minutes === null) {
      item.append(element("span", "", ` until ${stop.until}`));
    } else {
      const minutes = input(`stop-${number}`, stop.minutes ?? "");
      minutes.addEventListener("input", () => {
        stop.minutes = minutes.value;
        stop.isChanged = true;
        changed();
      });
      item.append(minutes, " min");
    }
    item.append(remover(`Remove the stop at ${stop.at}`, () => {
      stops = stops.filter((one) => one !== stop);
      draw();
      changed();
    }));
    return item;
  };
  return {
    // Stops of an opened trip are kept by their number there.
    set(shown) {
      stops = shown.map((stop, keep) => ({ ...stop, keep }));
      draw();
    },
    add(at, minutes) {
      stops = [...stops, { at, minutes }];
      draw();
      changed();
    },
    said: () => stops.map(({ at, minutes, keep, isChanged }) => ({ at, keep, minutes: keep === undefined || isChanged ? String(minutes) : undefined })),
  };
}

function makeLoads(list, changed) {
  let loads = [];
  const draw = () => list.replaceChildren(...loads.map(row));
  const row = (load, number) => {
    const item = element("li");
    for (const [key, title, unit, hint] of [["name", "Load", "", "fridge"], ["watts", "Watts", "W", "40"], ["when", "When", "", "always"]]) {
      const cell = element("span", key);
      const label = element("label", "", `${title} ${number + 1}`);
      const field = input(`load-${key}-${number}`, load[key]);
      label.htmlFor = field.id;
      field.placeholder = hint;
      field.inputMode = key === "watts" ? "decimal" : "text";
      field.addEventListener("input", () => {
        load[key] = field.value;
        changed();
      });
      cell.append(label, field, unit);
      item.append(cell);
    }
    item.append(remover(`Remove load ${number + 1}`, () => {
      loads = loads.filter((one) => one !== load);
      draw();
      changed();
    }));
    return item;
  };
  return {
    set(shown) {
      loads = shown.map((load) => ({ ...load }));
      draw();
    },
    add() {
      loads = [...loads, { name: "", watts: "", when: "" }];
      draw();
      list.querySelector("li:last-child input").focus();
    },
    // A load of which nothing is said yet is none.
    said: () => loads.filter((load) => load.watts !== "" || load.name !== "").map(({ name, watts, when }) => ({ name, watts: String(watts), when })),
  };
}

function input(id, value) {
  const made = element("input");
  Object.assign(made, { id, value, autocomplete: "off", inputMode: "decimal" });
  return made;
}

function remover(name, act) {
  const button = element("button", "remove", "×");
  button.type = "button";
  button.setAttribute("aria-label", name);
  button.addEventListener("click", act);
  return button;
}
