// The text of the preset: colours, completion and help from the schema, marks of mistakes.

import { autocompletion, closeBrackets, closeBracketsKeymap, completionKeymap, startCompletion } from "@codemirror/autocomplete";
import { defaultKeymap, history, historyKeymap, isolateHistory } from "@codemirror/commands";
import { yaml } from "@codemirror/lang-yaml";
import { HighlightStyle, bracketMatching, indentUnit, syntaxHighlighting } from "@codemirror/language";
import { lintGutter, setDiagnostics } from "@codemirror/lint";
import { EditorState } from "@codemirror/state";
import { EditorView, drawSelection, highlightActiveLine, highlightSpecialChars, hoverTooltip, keymap, lineNumbers } from "@codemirror/view";
import { tags } from "@lezer/highlight";

import { ask } from "./ask.js";
import { parts, place } from "./places.js";
import { help, isList, isSection, line, lines, words } from "./schema.js";
import { Sync } from "./sync.js";

const $ = (id) => document.getElementById(id);

const COLOURS = HighlightStyle.define([
  { tag: tags.comment, class: "t-comment" },
  { tag: [tags.propertyName, tags.definition(tags.propertyName)], class: "t-key" },
  { tag: [tags.string, tags.content, tags.attributeValue], class: "t-value" },
  { tag: [tags.punctuation, tags.separator, tags.squareBracket, tags.brace], class: "t-sign" },
]);

function at(state, pos) {
  const row = state.doc.lineAt(pos);
  return { row, ...place(state.doc.toString().split("\n"), row.number - 1, pos - row.from) };
}

// What can be written at the cursor.
function offers(schema) {
  return (context) => {
    const here = at(context.state, context.pos);
    const column = context.pos - here.row.from;
    if (/(^|\s)#/.test(here.row.text.slice(0, column))) return null;
    const typed = here.row.text.slice(here.from, column);
    if (!context.explicit && !typed) return null;
    if (here.key) {
      const node = line(schema, here.path, here.key, here.siblings);
      const options = words(node).map((label) => ({ label: String(label), info: help(node) }));
      return options.length ? { from: here.row.from + here.from, options, validFor: /^[\w-]*$/ } : null;
    }
    const found = lines(schema, here.path, here.siblings);
    const options = Object.entries(found)
      .filter(([key]) => !(key in here.siblings) || key === here.whole)
      .map(([label, node]) => ({ label, info: help(node) || undefined, apply: opened(label, node, here) }));
    return options.length ? { from: here.row.from + here.from, options, validFor: /^[\w-]*$/ } : null;
  };
}

// A section or list opens its first line; anything else waits for its value, with its words on offer.
function opened(label, node, { fresh, whole, row, from }) {
  if (whole) return label;
  const indent = `\n${" ".repeat(from)}  `;
  const more = fresh && isList(node) ? `:${indent}- ` : fresh && isSection(node) ? `:${indent}` : ": ";
  return (view, _, start, end) => {
    const insert = label + more;
    view.dispatch({ changes: { from: start, to: end, insert }, selection: { anchor: start + insert.length }, userEvent: "input.complete" });
    if (words(node).length) startCompletion(view);
  };
}

// Help for the line of a position: [its key, the words], or null.
function explained(schema, state, pos) {
  const row = state.doc.lineAt(pos), own = parts(row.text);
  const end = at(state, own.key ? Math.max(pos, row.from + own.at + 1) : pos);
  const key = end.key || own.key;
  const node = key && line(schema, end.path, key, end.siblings);
  return node ? [[...end.path, key].join(".").replaceAll(".[]", "[]"), help(node)] : null;
}

function hints(schema) {
  return hoverTooltip((view, pos) => {
    const found = explained(schema, view.state, pos);
    if (!found) return null;
    const row = view.state.doc.lineAt(pos);
    const dom = Object.assign(document.createElement("div"), { className: "hint", textContent: found.join(": ") });
    return { pos: row.from + parts(row.text).at, end: row.to, above: true, create: () => ({ dom }) };
  });
}

// Enter after a section's name begins its first line.
function entering(schema) {
  return (view) => {
    const { state } = view, { head, empty } = state.selection.main, row = state.doc.lineAt(head), own = parts(row.text);
    if (!empty || head !== row.to || !own.key || own.value) return false;
    const here = at(state, row.from + own.at + 1), node = line(schema, here.path, own.key, here.siblings);
    if (!node || !(isSection(node) || isList(node) || own.key === "instead")) return false;
    const insert = `\n${" ".repeat(own.at + 2)}`;
    view.dispatch({ changes: { from: head, insert }, selection: { anchor: head + insert.length }, scrollIntoView: true, userEvent: "input" });
    return true;
  };
}

function extensions(schema, sync, explain) {
  const keys = [
    { key: "Enter", run: entering(schema) },
    { key: "Mod-s", run: () => (sync.save(), true), preventDefault: true },
    { key: "F1", run: (view) => ((($("spoken").textContent = explain(view)), true)), preventDefault: true },
  ];
  return [
    lineNumbers(), history(), drawSelection(), highlightSpecialChars(), highlightActiveLine(), bracketMatching(), closeBrackets(),
    indentUnit.of("  "), EditorView.lineWrapping, lintGutter(), yaml(), syntaxHighlighting(COLOURS), hints(schema),
    autocompletion({ override: [offers(schema)], icons: false, aboveCursor: false }),
    keymap.of([...closeBracketsKeymap, ...completionKeymap, ...keys, ...defaultKeymap, ...historyKeymap]),
    EditorView.contentAttributes.of({ tabindex: "0", "aria-label": "Text of the preset", "aria-describedby": "writing-note about", spellcheck: "false", autocapitalize: "off" }),
    EditorView.updateListener.of((update) => {
      if (update.docChanged) sync.typed();
      if (update.docChanged || update.selectionSet) $("about").textContent = explain(update.view);
    }),
  ];
}

// The editor as the rest of the page knows it. Without a text that can be shown it does nothing.
export async function edit() {
  let view = null;
  const sync = new Sync({
    text: () => view.state.doc.toString(),
    apply: (changes) => view.dispatch({ changes: changes.map(({ start, end, text }) => ({ from: start, to: end, insert: text })), annotations: isolateHistory.of("full") }),
  });
  const [text, schema] = await Promise.all([sync.begin(), ask("/schema.json")]);
  if (text === undefined) return { settled: async () => true, changed() {}, mark() {}, goTo() {} };
  const explain = ({ state }) => explained(schema, state, state.selection.main.head)?.join(": ") ?? "";
  view = new EditorView({ parent: $("editor"), state: EditorState.create({ doc: text, extensions: extensions(schema, sync, explain) }) });
  return {
    settled: () => sync.save(),
    changed: () => sync.changed(),
    mark(message, number) {
      const row = message && number ? view.state.doc.line(Math.min(number, view.state.doc.lines)) : null;
      const first = row && row.from + row.text.match(/^ */)[0].length;
      view.dispatch(setDiagnostics(view.state, row ? [{ from: first, to: Math.max(first, row.to), severity: "error", message }] : []));
    },
    goTo(number) {
      const row = view.state.doc.line(Math.min(number, view.state.doc.lines));
      view.dispatch({ selection: { anchor: row.from + parts(row.text).at }, scrollIntoView: true });
      view.focus();
    },
  };
}
