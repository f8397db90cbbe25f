// Keeps the text of the page and the file the same: what is typed is saved after a moment, what others write into the
// file is taken over, and where both changed the same place the maker chooses. Nothing is lost: the other text gets a
// file of its own.

import { ask } from "./ask.js";
import { merged } from "./merge.js";

const MOMENT = 250; // ms without typing after which the text is saved
const AGAIN = 2000; // ms until a save that was not answered is tried again
const $ = (id) => document.getElementById(id);
const MARK = "\ufeff";

// Line ends and the mark at the start stay as the file has them.
function read({ text, digest }) {
  const breaks = text.match(/\r?\n/g) ?? [];
  const crlf = breaks.length > 0 && breaks.every((end) => end === "\r\n");
  return { text: text.replace(MARK, "").replace(/\r\n?/g, "\n"), mark: text.startsWith(MARK) ? MARK : "", crlf, digest };
}

function written(text, { mark, crlf }) {
  return mark + (crlf ? text.replace(/\n/g, "\r\n") : text);
}

export class Sync {
  // text : returns the text of the page; apply : makes changes in it
  constructor({ text, apply }) {
    Object.assign(this, { text, apply, base: null, waiting: 0, saving: null, failed: false, theirs: null });
    $("keep").addEventListener("click", () => this.#keep());
    $("take").addEventListener("click", () => this.#take());
    addEventListener("beforeunload", (event) => (this.failed || this.theirs) && event.preventDefault());
    addEventListener("pagehide", () => this.save());
  }

  async begin() {
    const got = await ask("text");
    if (got.error) return this.#say(got.error, "wrong");
    this.base = read(got);
    return this.base.text;
  }

  isSaved() {
    return !this.base || (!this.theirs && this.text() === this.base.text);
  }

  typed() {
    if (this.isSaved() || this.theirs) return;
    this.#say("Not saved yet");
    clearTimeout(this.waiting);
    this.waiting = setTimeout(() => this.save(), MOMENT);
  }

  // Saves what is not saved; whether the file then has the text.
  async save() {
    clearTimeout(this.waiting);
    while (this.saving) await this.saving;
    if (this.isSaved() || this.theirs) return this.isSaved();
    this.saving = this.#send(this.text());
    const good = await this.saving;
    this.saving = null;
    if (good && !this.isSaved()) return this.save();
    return good;
  }

  async #send(text) {
    const got = await ask("text", "PUT", { text: written(text, this.base), digest: this.base.digest });
    this.failed = ![200, 409].includes(got.status);
    if (got.status === 200) {
      this.base = { ...this.base, text, digest: got.digest };
      this.#say("Saved", "good");
      return true;
    }
    if (got.status === 409) return this.#meet(got);
    this.#say(got.status ? got.error : `Not saved. ${got.error} The text stays here as long as this page is open.`, "wrong");
    if (got.status === 404 && this.base.digest) this.base = { ...this.base, digest: "" }; // gone: it is written again
    if (got.status === 0 || got.status === 404) this.waiting = setTimeout(() => this.save(), AGAIN);
    return false;
  }

  // The file may have changed.
  async changed() {
    if (!this.base) return;
    while (this.saving) await this.saving;
    const got = await ask("text");
    if (this.saving || got.error || got.digest === this.base.digest) return;
    this.#meet(got);
    if (!this.theirs) this.typed();
  }

  // Takes over what the file has; whether that could be done without a question.
  #meet(got) {
    const theirs = read(got);
    const { changes, clash } = merged(this.base.text, this.text(), theirs.text);
    if (clash) return this.#choose(theirs, clash);
    this.base = theirs;
    this.theirs = null;
    $("both").hidden = true;
    this.apply(changes);
    if (this.isSaved()) this.#say("As in the file", "good");
    return true;
  }

  #choose(theirs, clash) {
    const open = !this.theirs;
    this.theirs = theirs;
    for (const [id, text] of Object.entries(clash)) $(id).textContent = text.replace(/\n$/, "");
    $("both").hidden = false;
    this.#say("Not saved: choose one of the two texts", "wrong");
    if (open) $("keep").focus();
    return false;
  }

  async #keep() {
    const theirs = this.theirs;
    if (!(await this.#aside(theirs))) return;
    this.#close({ ...theirs });
    this.save();
  }

  async #take() {
    const theirs = this.theirs;
    if (!(await this.#aside({ ...this.base, text: this.text() }))) return;
    const { changes } = merged(this.text(), this.text(), theirs.text);
    this.#close(theirs);
    this.apply(changes);
  }

  #close(base) {
    this.base = base;
    this.theirs = null;
    $("both").hidden = true;
  }

  async #aside(other) {
    const got = await ask("other", "POST", { text: written(other.text, other) });
    this.#say(got.error ?? `The other text is in ${got.file}`, got.error ? "wrong" : "good");
    return !got.error;
  }

  #say(text, kind = "") {
    $("saved").textContent = text;
    $("saved").className = `saved ${kind}`;
  }
}
