// Reads what shellgen/page/solid.py wrote.

const KINDS = { i2: Int16Array, u2: Uint16Array, u4: Uint32Array, u1: Uint8Array, f4: Float32Array };

async function inflate(bytes) {
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate"));
  return new Response(stream).arrayBuffer();
}

export async function read(base64) {
  const bytes = Uint8Array.from(atob(base64), (c) => c.charCodeAt(0));
  const buffer = await inflate(bytes);
  const length = new DataView(buffer).getUint32(0, true);
  const header = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, length)));
  const start = 4 + length;
  return unpacked(header, (entry) => {
    const count = entry.shape.reduce((a, b) => a * b, 1);
    const stored = new KINDS[entry.kind](buffer, start + entry.at, count);
    return entry.scale === 1 ? stored : Float32Array.from(stored, (v) => v * entry.scale);
  });
}

// Every entry of the header that describes an array becomes that array.
function unpacked(value, array) {
  if (Array.isArray(value)) return value.map((v) => unpacked(v, array));
  if (value === null || typeof value !== "object") return value;
  if ("at" in value && "kind" in value) return array(value);
  return Object.fromEntries(Object.entries(value).map(([k, v]) => [k, unpacked(v, array)]));
}
