// Two texts that come from one: what changed, and both changes together if they are in different places.

// The one stretch in which `to` differs from `from`: from.slice(start, end) has become `text`.
export function change(from, to) {
  let start = 0, end = from.length, last = to.length;
  while (start < end && start < last && from[start] === to[start]) start++;
  while (end > start && last > start && from[end - 1] === to[last - 1]) [end, last] = [end - 1, last - 1];
  return { start, end, text: to.slice(start, last) };
}

// Their change as one to be made in my text; null if both changed the same place.
export function merged(base, mine, theirs) {
  const my = change(base, mine), their = change(base, theirs);
  if (mine === base || mine === theirs) return change(mine, theirs);
  if (their.end < my.start) return their;
  if (their.start > my.end) {
    const by = mine.length - base.length;
    return { start: their.start + by, end: their.end + by, text: their.text };
  }
  return null;
}
