// Where a position in the text of a preset is: the path of sections and keys, by indents and brackets. It reads
// unfinished text too, which a parser of YAML would refuse.

const KEY = /^(?:"([^"]*)"|'([^']*)'|([\w-]+))\s*:(?=\s|$)/;

// The parts of a line: indent, how many "- " open items, key, value, and the columns where they begin.
export function parts(line) {
  let at = line.match(/^ */)[0].length, items = 0;
  const bare = line.replace(/(^|\s)#.*$/, "$1");
  while (/^-(\s|$)/.test(bare.slice(at))) {
    items += 1;
    at += 1 + bare.slice(at + 1).match(/^ */)[0].length;
  }
  const found = bare.slice(at).match(KEY);
  if (!found) return { at, items, key: "", value: bare.slice(at).trimEnd(), valueAt: at };
  const rest = bare.slice(at + found[0].length), valueAt = at + found[0].length + rest.match(/^\s*/)[0].length;
  return { at, items, key: found[1] ?? found[2] ?? found[3], value: rest.trim(), valueAt };
}

// The sections around line number `n` (from 0) at column `at`: keys from the outermost, "[]" for an item of a list.
function above(lines, n, at, items) {
  const path = [];
  let column = at;
  if (items) path.unshift("[]");
  for (let k = n - 1, dashes = items; k >= 0; k--) {
    if (/^\s*(#|$)/.test(lines[k])) continue;
    const part = parts(lines[k]), start = lines[k].match(/^ */)[0].length;
    if (part.items && part.at === column && !dashes) {  // the item that these lines belong to
      path.unshift("[]");
      [column, dashes] = [start, 1];
    } else if (part.key && !part.value && (part.at < column || (dashes && part.at === column && !part.items))) {
      path.unshift(part.key);
      [column, dashes] = [part.at, 0];
      if (part.items) {
        path.unshift("[]");
        [column, dashes] = [start, 1];
      }
    } else if (dashes && part.at < column) dashes = 0;
    if (column === 0 && !dashes) break;
  }
  return path;
}

// What brackets on one line are open at a column: {path, from, key, siblings}, or null outside brackets.
function within(value) {
  const open = [];
  let word = "", key = "", from = 0;
  const siblings = () => Object.fromEntries([...value.matchAll(/([\w-]+)\s*:\s*([^,{}[\]]*)/g)].map((m) => [m[1], m[2].trim()]));
  for (let k = 0; k < value.length; k++) {
    const c = value[k];
    if (c === "{" || c === "[") {
      open.push({ key, list: c === "[" });
      [word, key, from] = ["", "", k + 1];
    } else if (c === "}" || c === "]") {
      open.pop();
      [word, key, from] = ["", "", k + 1];
    } else if (c === ",") [word, key, from] = ["", "", k + 1];
    else if (c === ":" && /\s|$/.test(value[k + 1] ?? "")) [key, word, from] = [word.trim(), "", k + 1];
    else word += c;
  }
  if (!open.length) return null;
  const path = open.flatMap((one) => [...(one.key ? [one.key] : []), ...(one.list ? ["[]"] : [])]);
  return { path, key, from: from + value.slice(from).match(/^\s*/)[0].length, siblings: siblings() };
}

// {path, key, from, siblings, fresh}: the section, the key on the line ("" while it is being written), the column where
// the word to complete begins, the values of the section's other lines, and whether it is a line of its own.
export function place(lines, n, column) {
  const before = lines[n].slice(0, column), part = parts(before), whole = parts(lines[n]);
  const path = above(lines, n, part.at, part.items);
  const inner = part.value && within(before.slice(part.valueAt));
  if (inner) {
    const outer = [...path, ...(part.key ? [part.key] : []), ...inner.path];
    return { path: outer, key: inner.key, from: part.valueAt + inner.from, siblings: inner.siblings, fresh: false };
  }
  const siblings = near(lines, n, part.at);
  if (part.key && column > part.at) {
    return { path, key: part.key, from: part.valueAt, siblings, fresh: false, whole: whole.key };
  }
  return { path, key: "", from: part.at, siblings, fresh: true, whole: whole.key };
}

// Keys and values of the lines of the same section.
function near(lines, n, at) {
  const found = {};
  for (const step of [-1, 1]) {
    for (let k = step < 0 ? n : n + 1; k >= 0 && k < lines.length; k += step) {
      if (/^\s*(#|$)/.test(lines[k])) continue;
      const part = parts(lines[k]);
      if (step > 0 && part.items && part.at <= at) break;
      if (part.at < at) break;
      if (part.at === at && part.key) found[part.key] = part.value;
      if (step < 0 && part.items && part.at === at) break;
    }
  }
  return found;
}
