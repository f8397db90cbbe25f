// What the JSON Schema of presets says about a place: lines that it may have, words for a value, help.

const either = (node) => node?.anyOf ?? (node ? [node] : []);

// All shapes of an object that a node allows, those that fit the lines that are there first.
function objects(node, siblings = {}) {
  const shapes = either(node).flatMap((one) => (one.anyOf ? either(one) : [one])).filter((one) => one.properties);
  const got = shapes.filter((shape) => Object.entries(shape.properties).some(([key, of]) => "const" in of && siblings[key] === of.const));
  const usual = shapes.filter((shape) => !(shape.required ?? []).some((key) => "const" in shape.properties[key]));
  return got.length ? got : usual.length ? usual : shapes;
}

function items(node) {
  return either(node).find((one) => one.items)?.items;
}

// The node of a section; siblings are the lines of that section.
export function section(schema, path) {
  let node = schema;
  for (const step of path) {
    if (step === "[]") node = items(node);
    else if (step === "instead") node = schema;
    else node = objects(node).map((shape) => shape.properties[step]).find(Boolean) ?? any(node, step);
    if (!node) return null;
  }
  return node;
}

// A line of any member of a family.
function any(node, key) {
  return either(node).map((shape) => shape.properties?.[key]).find(Boolean);
}

export function lines(schema, path, siblings) {
  const node = section(schema, path);
  const found = {};
  for (const shape of objects(items(node) && !node.properties && path.at(-1) !== "[]" ? items(node) : node, siblings)) {
    for (const [key, of] of Object.entries(shape.properties)) found[key] ??= of;
  }
  for (const key of Object.keys(found)) if ("const" in found[key]) found[key] = member(node, key);
  return found;
}

// The choice between the members of a family.
function member(node, key) {
  const names = either(node).map((shape) => shape.properties?.[key]?.const).filter(Boolean);
  return { description: node.description ?? "", enum: names };
}

export function line(schema, path, key, siblings) {
  return lines(schema, path, siblings)[key] ?? any(section(schema, path), key);
}

// Words that a line may have as its value.
export function words(node) {
  const names = [];
  for (const one of either(node)) {
    for (const inner of one.anyOf ?? [one]) {
      for (const word of inner.enum ?? []) if (word !== null && word !== true && word !== false && !names.includes(word)) names.push(word);
      for (const word of inner.items?.enum ?? []) if (!names.includes(word)) names.push(word);
    }
  }
  return names.filter((word) => !["on", "off"].includes(word));
}

export function isList(node) {
  return Boolean(items(node)) && !words(node).length;
}

export function isSection(node) {
  return either(node).some((one) => one.properties || one.anyOf?.some((inner) => inner.properties)) && !words(node).length;
}

// Help for a line, as a maker reads it.
export function help(node) {
  if (!node) return "";
  const usual = node.default === undefined || node.default === null || Array.isArray(node.default) ? "" : ` Usual: ${said(node.default)}.`;
  return `${node.description ?? ""}${usual}`;
}

function said(value) {
  return value === true ? "yes" : value === false ? "no" : value;
}
