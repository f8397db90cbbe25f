// The start page: sends the answers for a new preset, and shows what is wrong with one at its question.

const $ = (id) => document.getElementById(id);
const questions = [...document.querySelectorAll("[data-field]")];
const touched = new Set();

// What nobody has answered follows the unit, and is not sent for a copy of a demo.
questions.forEach((input) => input.addEventListener("input", () => touched.add(input)));
$("unit").addEventListener("change", () => {
  const inches = $("unit").value === "in";
  document.querySelectorAll(".note[data-mm]").forEach((note) => (note.textContent = inches ? note.dataset.inches : note.dataset.mm));
  questions.forEach((input) => {
    if (touched.has(input)) return;
    if ("inches" in input.dataset) input.value = inches ? input.dataset.inches : input.dataset.mm;
    if (input.dataset.field === "print.paper") input.value = inches ? "Letter" : "A4";
  });
});

function wrong(input, text) {
  const line = input ? $(`${input.id}-wrong`) : $("wrong");
  line.hidden = !text;
  line.textContent = text;
  if (!input) return;
  input.setAttribute("aria-invalid", String(Boolean(text)));
  if (text) input.focus();
}

$("new").addEventListener("submit", async (event) => {
  event.preventDefault();
  [...questions, $("name"), null].forEach((input) => wrong(input, ""));
  const like = $("like").value;
  const said = questions.filter((input) => input.value.trim() && (!like || touched.has(input)));
  const answers = Object.fromEntries(said.map((input) => [input.dataset.field, input.value]));
  const body = JSON.stringify({ name: $("name").value.trim(), like, unit: $("unit").value, answers });
  const headers = { "Content-Type": "application/json", "X-Token": $("new").dataset.token };
  try {
    const answer = await fetch("/presets", { method: "POST", headers, body });
    const got = await answer.json();
    if (answer.ok) location.assign(got.address);
    else if (answer.status !== 422) wrong(null, got.error);
    else wrong(questions.find((input) => input.dataset.field === got.field) ?? $("name"), got.error);
  } catch {
    wrong(null, "The server does not answer. Start it again to go on.");
  }
});
document.documentElement.dataset.ready = "start";
