// Two texts that come from one: what changed in each, line by line, and both changes together where they are in
// different places. References: Khanna, Kunal, Pierce, "A formal investigation of diff3", FSTTCS 2007.

const MOST = 4e6; // cells of a table of common lines; beyond, all lines in between count as changed (chosen)

// The one stretch in which `to` differs from `from`: from.slice(start, end) has become `text`. Works on lists, too.
export function change(from, to) {
  let start = 0, end = from.length, last = to.length;
  while (start < end && start < last && from[start] === to[start]) start++;
  while (end > start && last > start && from[end - 1] === to[last - 1]) [end, last] = [end - 1, last - 1];
  return { start, end, text: to.slice(start, last) };
}

const lines = (text) => text.match(/[^\n]*\n|[^\n]+/g) ?? [];

// All changes from one list of lines to another, as the longest common subsequence leaves them.
function hunks(from, to) {
  const { start, end, text } = change(from, to), old = from.slice(start, end);
  const wide = text.length + 1, table = (old.length + 1) * wide <= MOST ? new Uint16Array((old.length + 1) * wide) : null;
  if (!table) return [{ start, end, text }];
  for (let i = old.length - 1; i >= 0; i--)
    for (let j = text.length - 1; j >= 0; j--)
      table[i * wide + j] = old[i] === text[j] ? table[(i + 1) * wide + j + 1] + 1 : Math.max(table[(i + 1) * wide + j], table[i * wide + j + 1]);
  const found = [];
  for (let i = 0, j = 0; i < old.length || j < text.length; ) {
    if (i < old.length && j < text.length && old[i] === text[j]) [i, j] = [i + 1, j + 1];
    else {
      const hunk = { start: start + i, end: start + i, text: [] };
      while ((i < old.length || j < text.length) && !(i < old.length && j < text.length && old[i] === text[j])) {
        if (j >= text.length || (i < old.length && table[(i + 1) * wide + j] >= table[i * wide + j + 1])) hunk.end = start + ++i;
        else hunk.text.push(text[j++]);
      }
      found.push(hunk);
    }
  }
  return found;
}

const touch = (a, b) => (a.start < b.end && b.start < a.end) || (a.start === b.start && a.end === a.start && b.end === b.start);

// Groups of changes of either side that touch each other, each with its range of base lines.
function groups(mine, theirs) {
  const all = [...mine.map((hunk) => ({ hunk, side: 0 })), ...theirs.map((hunk) => ({ hunk, side: 1 }))];
  all.sort((a, b) => a.hunk.start - b.hunk.start || a.hunk.end - b.hunk.end);
  const found = [];
  for (const { hunk, side } of all) {
    const last = found.at(-1);
    if (last && touch(last, hunk)) last.end = Math.max(last.end, hunk.end);
    else found.push({ start: hunk.start, end: hunk.end, sides: [[], []] });
    found.at(-1).sides[side].push(hunk);
  }
  return found;
}

// The lines of one side in a group's range.
function within(base, { start, end, sides }, side) {
  const text = [];
  let at = start;
  for (const hunk of sides[side]) {
    text.push(...base.slice(at, hunk.start), ...hunk.text);
    at = hunk.end;
  }
  return [...text, ...base.slice(at, end)].join("");
}

// Their change as one to be made in my text, if both are in different places of one stretch; else null.
function inside(base, mine, theirs) {
  const my = change(base, mine), their = change(base, theirs);
  if (mine === base || mine === theirs || theirs === base) return change(mine, theirs === base ? mine : theirs);
  if (their.end < my.start) return their;
  if (their.start <= my.end) return null;
  const by = mine.length - base.length;
  return { start: their.start + by, end: their.end + by, text: their.text };
}

// {changes, clash}: their changes as they are to be made in my text, and where both sides changed the same place the
// lines of both: {mine, theirs}, else null.
export function merged(base, mine, theirs) {
  const from = lines(base), changes = [];
  let at = 0, row = 0; // in my text, and in the lines of the base
  for (const group of groups(hunks(from, lines(mine)), hunks(from, lines(theirs)))) {
    at += from.slice(row, group.start).join("").length;
    const [old, my, their] = [from.slice(group.start, group.end).join(""), within(from, group, 0), within(from, group, 1)];
    const found = inside(old, my, their);
    if (!found) return { changes: [], clash: { mine: my, theirs: their } };
    if (group.sides[1].length && (found.start < found.end || found.text)) changes.push({ ...found, start: at + found.start, end: at + found.end });
    at += my.length;
    row = group.end;
  }
  return { changes, clash: null };
}
