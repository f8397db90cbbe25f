// Requests to the server of this page.

const live = () => document.getElementById("live").dataset;

const LASTS = 60_000; // characters of a request that browsers finish after the page has closed

// The answer as {status, ...its JSON}; status 0 if there is none.
export async function ask(path, method = "GET", body) {
  const headers = { "X-Token": live().token, ...(body ? { "Content-Type": "application/json" } : {}) };
  const sent = body && JSON.stringify(body);
  try {
    const more = { method, headers, body: sent, keepalive: Boolean(sent) && sent.length < LASTS };
    const answer = await fetch(path.startsWith("/") ? path : `${live().preset}/${path}`, more);
    const got = answer.headers.get("content-type")?.includes("json") ? await answer.json() : {};
    const unknown = answer.ok || got.error ? {} : { error: "The server was started again. Copy what is not saved, and load this page again." };
    return { ...got, ...unknown, status: answer.status };
  } catch {
    return { status: 0, error: "The server does not answer. Start it again to go on." };
  }
}
