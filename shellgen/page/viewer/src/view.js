// The page's behaviour: 3-D view and controls, and the chosen piece.

import { read } from "./blob.js";
import { Stage } from "./stage.js";

const $ = (id) => document.getElementById(id);
const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
let stage = null;
let names = [];
let chosen = "";

function choose(name, { jump = false } = {}) {
  chosen = names.includes(name) ? name : "";
  $("choose").value = chosen;
  stage?.select(chosen || null);
  document.querySelectorAll(".piece").forEach((card) => card.classList.toggle("chosen", card.dataset.piece === chosen));
  const card = chosen && $(`piece-${chosen}`);
  const hint = "Choose a piece here or click it in the picture to see its template and seams.";
  $("chosen").innerHTML = card ? card.innerHTML : `<p class="note">${hint}</p>`;
  const title = $("chosen").querySelector("h3");
  title?.replaceWith(Object.assign(document.createElement("h2"), { textContent: title.textContent }));
  $("chosen").querySelector("details")?.setAttribute("open", "");
  $("detail").classList.remove("large");
  const sheet = card && $("chosen").querySelector(".sheet");
  if (sheet) {
    const frame = document.createElement("div");
    frame.className = "frame";
    frame.tabIndex = 0;
    frame.setAttribute("role", "group");
    frame.setAttribute("aria-label", `Template of ${chosen}`);
    sheet.replaceWith(frame);
    frame.append(sheet);
    frame.after(button("Enlarge", () => enlarge(frame)));
  }
  if (jump && chosen) $("detail").scrollIntoView({ block: "nearest", behavior: calm ? "auto" : "smooth" });
}

// Enlarges a template to a readable size, its middle first; a second click shows the whole again.
function enlarge(frame) {
  $("detail").classList.toggle("large");
  frame.scrollTo((frame.scrollWidth - frame.clientWidth) / 2, (frame.scrollHeight - frame.clientHeight) / 2);
}

function button(text, act) {
  const made = Object.assign(document.createElement("button"), { type: "button", textContent: text });
  made.setAttribute("aria-pressed", "false");
  made.addEventListener("click", () => {
    act();
    made.setAttribute("aria-pressed", String(made.getAttribute("aria-pressed") === "false"));
  });
  return made;
}

function step(by) {
  const at = names.indexOf(chosen);
  choose(names[at < 0 ? (by > 0 ? 0 : names.length - 1) : (at + by + names.length) % names.length]);
}

export function listPieces() {
  names = [...document.querySelectorAll(".piece")].map((card) => card.dataset.piece);
  const select = $("choose");
  select.replaceChildren(new Option("none chosen", ""), ...names.map((name) => new Option(name, name)));
  select.disabled = !names.length;
  choose(chosen);
}

function setShare(percent) {
  $("share").value = percent;
  $("shown").value = percent == 0 ? "flat" : percent == 100 ? "built" : `${Math.round(percent)} %`;
  $("play").textContent = percent < 50 ? "Build it" : "Lay it flat";
  stage.setShare(percent / 100);
}

let playing = 0;
function play() {
  cancelAnimationFrame(playing);
  const from = Number($("share").value), to = from < 50 ? 100 : 0;
  if (calm) return setShare(to);
  const start = performance.now(), span = 2600;
  const tick = (now) => {
    const t = Math.min((now - start) / span, 1), eased = t * t * (3 - 2 * t);
    setShare(from + (to - from) * eased);
    if (t < 1) playing = requestAnimationFrame(tick);
  };
  playing = requestAnimationFrame(tick);
}

function setMode(mode) {
  stage.setMode(mode);
  if (!stage.data) return;
  $("legend").hidden = mode !== "stretch";
  const most = Math.round(100 * stage.data.stretch);
  $("least").textContent = `compressed ${most} %`;
  $("most").textContent = `stretched ${most} %`;
}

function listZones() {
  const zones = [...new Set(stage.standing.children.map((mesh) => mesh.userData.zone))];
  const rows = zones.map((zone) => {
    const label = document.createElement("label"), box = Object.assign(document.createElement("input"), { type: "checkbox", checked: !stage.hidden.has(zone) });
    box.addEventListener("change", () => stage.hide(zone, !box.checked));
    box.dataset.zone = zone;
    const name = zone === "rim" ? "edging" : zone;
    label.append(box, name[0].toUpperCase() + name.slice(1));
    return label;
  });
  $("zones").replaceChildren($("zones").firstElementChild, ...rows);
  $("zones").hidden = !zones.length;
}

// Names on the pieces, as many as fit.
function label() {
  const box = $("labels");
  if (stage.mode !== "pieces" && !chosen) return box.replaceChildren();
  const taken = [];
  const shown = stage.places().filter(({ name, x, y, facing }) => {
    if (name === chosen) return true;
    if (stage.mode !== "pieces" || !facing || taken.some((at) => Math.abs(at.x - x) < 62 && Math.abs(at.y - y) < 20)) return false;
    taken.push({ x, y });
    return true;
  });
  box.replaceChildren(
    ...shown.map(({ name, x, y }) => {
      const made = Object.assign(document.createElement("span"), { textContent: name, className: name === chosen ? "chosen" : "" });
      made.style.left = `${x}px`;
      made.style.top = `${y}px`;
      return made;
    }),
  );
}

const KEYS = {
  ArrowLeft: () => stage.turn(-0.15, 0, 1),
  ArrowRight: () => stage.turn(0.15, 0, 1),
  ArrowUp: () => stage.turn(0, -0.12, 1),
  ArrowDown: () => stage.turn(0, 0.12, 1),
  "+": () => stage.turn(0, 0, 0.88),
  "=": () => stage.turn(0, 0, 0.88),
  "-": () => stage.turn(0, 0, 1.14),
  n: () => step(1),
  p: () => step(-1),
  f: () => play(),
  Escape: () => choose(""),
};

function connect() {
  const canvas = $("canvas");
  let down = null;
  canvas.addEventListener("pointerdown", (event) => {
    down = [event.clientX, event.clientY];
    canvas.focus({ preventScroll: true });
  });
  canvas.addEventListener("pointerup", (event) => {
    if (down && Math.hypot(event.clientX - down[0], event.clientY - down[1]) < 5) choose(stage.pick(event.clientX, event.clientY));
    down = null;
  });
  canvas.addEventListener("keydown", (event) => {
    const act = KEYS[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    if (!act || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    act();
  });
  $("share").addEventListener("input", () => {
    cancelAnimationFrame(playing);
    setShare(Number($("share").value));
  });
  $("play").addEventListener("click", play);
  document.querySelectorAll("[name=mode]").forEach((box) => box.addEventListener("change", () => setMode(box.value)));
  document.querySelectorAll("[data-view]").forEach((made) => made.addEventListener("click", () => stage.look(made.dataset.view)));
}

// Foam without parts is a bare shape; parts without foam are put on the foam already shown.
export async function showBlobs({ foam, standing }) {
  if (!stage || !(foam || standing)) return;
  const parts = standing ? (await read(standing)).parts : [];
  if (foam) stage.show(await read(foam), parts);
  else stage.stand(parts);
  listZones();
  setMode(stage.mode);
}

export async function begin() {
  listPieces();
  $("choose").addEventListener("change", () => choose($("choose").value));
  document.addEventListener("click", (event) => {
    const name = event.target.closest?.("[data-choose]")?.dataset.choose;
    if (!name) return;
    event.preventDefault();
    choose(name, { jump: true });
  });
  try {
    $("canvas").hidden = false;
    stage = new Stage($("canvas"));
    stage.onframe = label;
    document.documentElement.classList.add("has3d");
    $("controls").hidden = false;
    stage.resize();
    connect();
    await showBlobs({ foam: $("foam").textContent, standing: $("standing").textContent });
  } catch (error) {
    // No WebGL, or a browser too old for it: the still picture, the lists and the templates are enough.
    stage = null;
    $("canvas").hidden = true;
    $("controls").hidden = true;
    document.documentElement.classList.remove("has3d");
    console.info(`No 3-D here: ${error.message}`);
  }
  document.documentElement.dataset.ready = stage ? "3d" : "still";
}
