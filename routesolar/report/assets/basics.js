// The page's data, elements and numbers.

const NARROW = 560; // pixels below which labels thin out

function readData() {
  return JSON.parse(document.getElementById("data").textContent);
}

function unpacked({ scale, steps }) {
  const values = new Float64Array(steps.length);
  let whole = 0;
  for (let at = 0; at < steps.length; at += 1) values[at] = (whole += steps[at]) / scale;
  return values;
}

// The smallest of 1, 2, 2.5, 5 times a power of ten that is not below `least`.
function roundStep(least) {
  const decade = 10 ** Math.floor(Math.log10(least));
  return decade * [1, 2, 2.5, 5, 10].find((factor) => factor * decade >= least * (1 - 1e-9));
}

function readable(value) {
  if (Number.isNaN(value)) return "–";
  return value === 0 || Math.abs(value) >= 9.95 ? value.toFixed(0) : value.toFixed(1);
}

function element(name, className, words) {
  const made = document.createElement(name);
  if (className) made.className = className;
  if (words !== undefined) made.textContent = words;
  return made;
}

function svg(name, attributes, words) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) if (value !== "") made.setAttribute(key, value);
  if (words !== undefined) made.textContent = words;
  return made;
}
