// Asking the server: JSON out, JSON back; what it refuses comes as messages by field.

const ALIVE_EVERY_MS = 20_000;

const GONE = "The server has ended or is not to be reached: start routesolar plan again. What you saved is in the folder.";
const CUT_OFF = (name) => `${name} did not arrive: the connection broke off while it was sent, or the file changed meanwhile. Drop it again.`;

async function ask(address, said) {
  let reply;
  try {
    reply = await fetch(address, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(said) });
  } catch {
    return { wrong: { "": GONE } };
  }
  if (reply.status === 403) return { wrong: { "": await reply.text() } };
  return reply.json();
}

// A file goes in one piece, as the browser reads it from the disk; `told` hears which share has gone.
function send(file, told) {
  return new Promise((resolve) => {
    const sending = new XMLHttpRequest();
    sending.open("PUT", `/files/${encodeURIComponent(file.name)}`);
    sending.upload.addEventListener("progress", (event) => told(event.total ? event.loaded / event.total : 1));
    sending.addEventListener("load", () => resolve(sending.status === 200 ? JSON.parse(sending.responseText) : { wrong: { "": sending.responseText } }));
    sending.addEventListener("error", async () => resolve({ wrong: { "": (await isThere()) ? CUT_OFF(file.name) : GONE } }));
    sending.send(file);
  });
}

const isThere = () => fetch("/alive", { method: "POST" }).then(() => true, () => false);

// Tells what the server is at, now and then, until the function that it returns is called.
function hearDoing(tell, everyMs) {
  let isOver = false;
  const timer = setInterval(async () => {
    const doing = await ask("/doing", {});
    if (!isOver && !doing.wrong) tell(doing);
  }, everyMs);
  return () => {
    isOver = true;
    clearInterval(timer);
  };
}

function stayAlive() {
  setInterval(() => fetch("/alive", { method: "POST" }).catch(() => {}), ALIVE_EVERY_MS);
}
