// Follows the preset: events of the server tell what is new, and are shown over the last good state.

const $ = (id) => document.getElementById(id);

function item(text) {
  return Object.assign(document.createElement("li"), { textContent: text });
}

function say(kind, text) {
  $("live").className = `live ${kind}`;
  $("state").textContent = text;
}

function mistake(told) {
  $("mistake").hidden = !told;
  $("mistake").textContent = told || "";
}

function sliders(rows) {
  for (const { field, text, value } of rows) {
    const input = document.querySelector(`[data-field="${field}"]`);
    if (!input || input.dataset.held) continue;
    input.value = value;
    input.closest(".slider").querySelector("output").value = text;
  }
}

function connectSliders() {
  document.querySelectorAll("[data-field]").forEach((input) => {
    const shown = input.closest(".slider").querySelector("output");
    input.addEventListener("input", () => {
      input.dataset.held = "yes";
      shown.value = `${input.value} mm`;
    });
    input.addEventListener("change", async () => {
      const body = JSON.stringify({ field: input.dataset.field, value: Number(input.value) });
      const answer = await fetch("/figure", { method: "POST", headers: { "Content-Type": "application/json" }, body });
      delete input.dataset.held;
      if (!answer.ok) mistake(await answer.text());
    });
  });
}

export function follow({ showBlob, listPieces }) {
  connectSliders();
  const events = new EventSource("/events");
  const on = (name, act) => events.addEventListener(name, (event) => act(JSON.parse(event.data)));
  on("busy", ({ text }) => say("busy", text));
  on("mistake", ({ text }) => {
    mistake(text);
    say("wrong", "The preset has a mistake; this is the last good shell.");
  });
  on("shape", async ({ blob, text }) => {
    await showBlob(blob);
    say("busy", text);
    document.documentElement.dataset.shape = text;
  });
  on("full", async ({ blob, head, body, changes, figures, text, version, title }) => {
    mistake("");
    document.title = title;
    $("head").innerHTML = head;
    $("content").innerHTML = body;
    listPieces();
    if (blob) await showBlob(blob);
    $("changes").replaceChildren(...(changes.length ? changes : ["Nothing that shows."]).map(item));
    $("news").hidden = version < 2;
    sliders(figures);
    say("good", text);
    document.documentElement.dataset.version = version;
  });
  events.onerror = () => say("wrong", "The preview has ended. Start it again to go on.");
}
