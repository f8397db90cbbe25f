// Follows the preset: shows events of the server over the last good state.

import { ask } from "./ask.js";

const $ = (id) => document.getElementById(id);

function item(text) {
  return Object.assign(document.createElement("li"), { textContent: text });
}

function say(kind, text) {
  $("live").className = `live ${kind}`;
  $("state").textContent = text;
}

// line : where it is in the text, 0 if nobody knows
function mistake(editor, text = "", line = 0) {
  $("mistake").hidden = !text;
  $("mistake").textContent = text;
  $("go").hidden = !text || !line;
  $("go").textContent = `Go to line ${line}`;
  $("go").onclick = () => editor.goTo(line);
  editor.mark(text, line);
}

function entitle({ title, head }) {
  document.title = title;
  $("head").innerHTML = head;
}

// New sliders, unless the reader is moving one.
function setSliders(html, editor) {
  const box = $("sliders");
  if (box.querySelector("[data-held]")) return;
  const at = box.contains(document.activeElement) ? document.activeElement.dataset.field : "";
  box.innerHTML = html;
  connectSliders(editor);
  if (at) box.querySelector(`[data-field="${at}"]`)?.focus();
}

// As in canvas/rule.py: "570 mm", or "570 mm (22 7/16 in)".
export function written(mm, inches) {
  if (!inches) return `${mm} mm`;
  let [part, of] = [Math.round((mm / 25.4) * 16), 16];
  const whole = Math.floor(part / of);
  part %= of;
  while (part && part % 2 === 0) [part, of] = [part / 2, of / 2];
  return `${mm} mm (${[whole || !part ? whole : "", part ? `${part}/${of}` : ""].join(" ").trim()} in)`;
}

function connectSliders(editor) {
  document.querySelectorAll("#sliders [data-field]").forEach((input) => {
    const row = input.closest(".slider");
    const shown = row.querySelector("output");
    input.addEventListener("input", () => {
      input.dataset.held = "yes";
      shown.value = written(input.value, "inches" in row.dataset);
    });
    input.addEventListener("change", async () => {
      await editor.settled();
      const answer = await ask("figure", "POST", { field: input.dataset.field, value: Number(input.value) });
      delete input.dataset.held;
      if (answer.error) mistake(editor, answer.error);
    });
  });
}

export function follow({ showBlobs, listPieces, editor, build }) {
  connectSliders(editor);
  if (Number($("live").dataset.version)) document.documentElement.dataset.version = $("live").dataset.version;
  const events = new EventSource(`${$("live").dataset.preset}/events?version=${$("live").dataset.version}`);
  const on = (name, act) => events.addEventListener(name, (event) => act(JSON.parse(event.data)));
  on("busy", ({ text }) => say("busy", text));
  on("saved", () => editor.changed());
  on("build", build);
  on("mistake", ({ text, line }) => {
    mistake(editor, text, line);
    say("wrong", "The preset has a mistake; this is the last good shell.");
  });
  on("shape", async (blobs) => {
    mistake(editor);
    await showBlobs(blobs);
    document.documentElement.dataset.shape = String(1 + Number(document.documentElement.dataset.shape || 0));
  });
  on("head", entitle);
  on("full", ({ head, body, changes, sliders, checks, text, version, title }) => {
    mistake(editor);
    entitle({ title, head });
    $("content").innerHTML = body;
    listPieces();
    $("changes").replaceChildren(...(changes.length ? changes : ["no change in these figures"]).map(item));
    $("news").hidden = version < 2;
    setSliders(sliders, editor);
    $("checks").innerHTML = checks;
    say("good", text);
    document.documentElement.dataset.version = $("live").dataset.version = version;
  });
  events.onerror = () => say("wrong", "The server has ended. Start it again to go on.");
}
