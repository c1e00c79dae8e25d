// Rasters and maps of the trip, each with what it is used as; and files on their way to the session's folder.

const USES = { cover: "tree cover", height: "tree height", terrain: "height of the ground", "": "not used" };

function makeFiles(list, changed) {
  let files = [];
  const row = (file, number) => {
    const item = element("li");
    const label = element("label", "", file.name);
    if (file.as === "map") {
      item.append(label, element("span", "use", "map"));
    } else {
      const choice = element("select");
      choice.id = label.htmlFor = `file-${number}`;
      choice.setAttribute("aria-describedby", "files-wrong");
      choice.append(...Object.entries(USES).map(([use, words]) => new Option(words, use, false, use === file.as)));
      choice.addEventListener("change", () => {
        file.as = choice.value;
        changed(file.as);
      });
      item.append(label, choice);
    }
    item.append(remover(`Leave out ${file.name}`, () => {
      files = files.filter((one) => one !== file);
      draw();
      changed("");
    }));
    return item;
  };
  const draw = () => list.replaceChildren(...files.map(row));
  return {
    set(shown) {
      files = shown.map((file) => ({ ...file }));
      draw();
    },
    add({ name, as }) {
      files = [...files.filter((file) => file.name !== name), { name, as }];
      draw();
      changed(as);
    },
    // What a field says takes the place of a raster.
    unuse(use) {
      files.filter((file) => file.as === use).forEach((file) => (file.as = ""));
      draw();
    },
    namesOf: (...uses) => files.filter((file) => uses.includes(file.as)).map((file) => file.name),
    said: () => files.map((file) => ({ ...file })),
  };
}

// Sends files one after the other; returns what each is, or nothing where one was refused, which `field` tells.
async function sendAll(files, field = "drop") {
  const box = document.querySelector(".arriving");
  const [words, bar] = [box.querySelector(".arriving-words"), box.querySelector("progress")];
  const kept = [];
  showWrong({});
  const large = files.map(tooLarge).find(Boolean);
  if (large) {
    showWrong({ [field]: large });
    return null;
  }
  for (const file of files) {
    const slow = setTimeout(() => (box.hidden = false), SLOW_MS);
    bar.value = 0;
    words.textContent = `${file.name} is being copied …`;
    const reply = await send(file, (share) => {
      bar.value = share;
      if (share === 1) words.textContent = `${file.name} is being looked at …`;
    });
    clearTimeout(slow);
    box.hidden = true;
    if (reply.wrong) {
      showWrong(at(field, reply.wrong));
      return null;
    }
    kept.push(reply);
  }
  return kept;
}

// What is larger than its kind may be is not sent at all; the words are the server's.
function tooLarge({ name, size }) {
  const limits = Object.entries(JSON.parse(document.querySelector(".drop").dataset.limits));
  const [, most] = limits.find(([ending]) => name.toLowerCase().endsWith(ending)) ?? ["", Infinity];
  return size > most ? `${name}: larger than ${most / 1e6} MB; give a smaller file` : "";
}
