// Requests to the server of this page.

const live = () => document.getElementById("live").dataset;

// The answer as {status, ...its JSON}; status 0 if there is none.
export async function ask(path, method = "GET", body) {
  const headers = { "X-Token": live().token, ...(body ? { "Content-Type": "application/json" } : {}) };
  try {
    const answer = await fetch(path.startsWith("/") ? path : `${live().preset}/${path}`, { method, headers, body: body && JSON.stringify(body) });
    const got = answer.headers.get("content-type")?.includes("json") ? await answer.json() : {};
    return { ...got, status: answer.status };
  } catch {
    return { status: 0, error: "The server does not answer. Start it again to go on." };
  }
}
