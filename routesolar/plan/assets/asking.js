// Asking the server: JSON out, JSON back; what it refuses comes as messages by field.

const ALIVE_EVERY_MS = 20_000;

async function ask(address, said, method = "POST") {
  const isFile = said instanceof Blob;
  const headers = isFile ? {} : { "Content-Type": "application/json" };
  let reply;
  try {
    reply = await fetch(address, { method, headers, body: isFile ? said : JSON.stringify(said) });
  } catch {
    return { wrong: { "": "The server has ended or is not to be reached: start routesolar plan again. What you saved is in the folder." } };
  }
  if (reply.status === 403) return { wrong: { "": await reply.text() } };
  return reply.json();
}

function stayAlive() {
  setInterval(() => fetch("/alive", { method: "POST" }).catch(() => {}), ALIVE_EVERY_MS);
}
