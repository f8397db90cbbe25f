// The panel that builds the pack: progress, cancelling, and what there is to open and print.

import { ask } from "./ask.js";

const $ = (id) => document.getElementById(id);

// Seconds as somebody would say them.
export function spoken(seconds) {
  if (seconds < 4) return "a few seconds left";
  if (seconds < 55) return `about ${Math.ceil(seconds / 5) * 5} s left`;
  const minutes = Math.round(seconds / 60);
  return `about ${minutes} ${minutes === 1 ? "minute" : "minutes"} left`;
}

function element(name, text = "", more = {}) {
  return Object.assign(document.createElement(name), { textContent: text, ...more });
}

function row(...cells) {
  const made = document.createElement("tr");
  made.append(...cells);
  return made;
}

// What to open, and what to print in its order.
function results({ pack, folder, prints }) {
  const home = `/packs/${encodeURIComponent(pack)}`;
  const where = element("p", "Its folder: ");
  where.append(element("code", folder));
  const links = element("p", "", { className: "links" });
  links.append(
    element("a", "Open its page", { href: `${home}/index.html` }), " ",
    element("a", "Build guide", { href: `${home}/guide.html` }), " ",
    element("a", "Download as one zip", { href: `${home}.zip`, download: `${pack}.zip` }),
  );
  const table = document.createElement("table"), head = document.createElement("thead"), body = document.createElement("tbody");
  head.append(row(...["paper", "pages", "print it"].map((text) => element("th", text, { scope: "col" }))));
  for (const { name, file, pages, when } of prints) {
    const first = element("th", "", { scope: "row" });
    first.append(element("a", name, { href: `${home}/${file}` }));
    body.append(row(first, element("td", pages, { className: "number" }), element("td", when)));
  }
  table.append(head, body);
  return [where, links, element("h3", "What to print, in this order, at 100 %"), table];
}

async function listPacks() {
  const { packs = [] } = await ask("/presets.json");
  const list = $("packs").querySelector("ul");
  list.replaceChildren(...packs.map((name) => {
    const home = `/packs/${encodeURIComponent(name)}`, item = document.createElement("li");
    const zip = element("a", "zip", { href: `${home}.zip`, download: `${name}.zip` });
    zip.setAttribute("aria-label", `${name} as a zip`);
    item.append(element("a", name, { href: `${home}/index.html` }), " ", zip);
    return item;
  }));
  $("packs").hidden = !packs.length;
}

// Returns what shows the state of a build. settled : resolves to whether the text is in the file
export function building(settled) {
  let left = 0, ticking = 0;
  const tick = (seconds) => {
    left = Math.max(0, left - seconds);
    $("left").textContent = spoken(left);
  };
  const show = (got) => {
    const running = got.state === "running", had = document.activeElement === $("cancel");
    clearInterval(ticking);
    $("begin").hidden = running;
    $("cancel").hidden = $("bar").hidden = !running;
    $("stage").textContent = got.text ?? "";
    $("stage").className = got.state;
    $("made").hidden = got.state !== "done";
    $("spite").hidden = !got.faults;
    if (had && !running) $("begin").focus();
    if (running) {
      $("progress").value = got.done;
      left = got.left;
      tick(0);
      ticking = setInterval(tick, 1000, 1);
    }
    if (got.state === "done") {
      $("made").replaceChildren(...results(got));
      listPacks();
    }
  };
  $("begin").addEventListener("click", async () => {
    if (!(await settled())) return show({ state: "failed", text: "The text is not in the file yet. See above." });
    const had = document.activeElement === $("begin");
    const got = await ask("build", "POST", { accept_faults: $("accept").checked });
    show(got.error ? { state: "failed", text: got.error } : got);
    if (had && !got.error) $("cancel").focus();
  });
  $("cancel").addEventListener("click", () => {
    $("stage").textContent = "Cancelling after this step";
    ask("build", "DELETE");
  });
  return show;
}
