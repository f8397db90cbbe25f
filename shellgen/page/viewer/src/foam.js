// A piece as a slab of foam, flat and as built, with its plate lines; morphed from one to the other by the GPU.

import * as THREE from "three";

const WIDTH = 2.2; // of a plate line, mm
const LIFT = 0.4; // above the foam, mm, so that no part of a line is inside it

// Unit normals of the whole built shell at its vertices, so that neighbouring slabs meet without a gap.
export function shellNormals(points, pieces) {
  const normals = new Float32Array(points.length);
  const [a, b, c] = [new THREE.Vector3(), new THREE.Vector3(), new THREE.Vector3()];
  for (const piece of pieces) {
    for (let f = 0; f < piece.faces.length; f += 3) {
      const at = [0, 1, 2].map((k) => 3 * piece.shell[piece.faces[f + k]]);
      a.fromArray(points, at[0]);
      b.fromArray(points, at[1]).sub(a);
      c.fromArray(points, at[2]).sub(a);
      b.cross(c);
      for (const k of at) {
        normals[k] += b.x;
        normals[k + 1] += b.y;
        normals[k + 2] += b.z;
      }
    }
  }
  for (let k = 0; k < normals.length; k += 3) a.fromArray(normals, k).normalize().toArray(normals, k);
  return normals;
}

// Height of the lowest foam, flat and as built.
export function lowest({ points, pieces, outer, thickness }, normals) {
  const flat = Math.min(...pieces.map(({ way }) => way.here[2])) + outer - thickness;
  let built = Infinity;
  for (let k = 2; k < points.length; k += 3) built = Math.min(built, points[k] + Math.min(outer * normals[k], (outer - thickness) * normals[k]));
  return { flat, built };
}

// The two shapes of a piece about its own middle: {points, normals}, flat and curved.
export function shapes(piece, points, normals) {
  const count = piece.shell.length;
  const yaw = new THREE.Matrix4().setFromMatrix3(new THREE.Matrix3().set(...piece.way.yaw.flat()));
  const turn = new THREE.Quaternion().setFromRotationMatrix(yaw);
  const end = tilt(piece.way.tilt, 1).multiply(turn).invert();
  const there = new THREE.Vector3(...piece.way.there);
  const flat = { points: new Float32Array(3 * count), normals: new Float32Array(3 * count) };
  const curved = { points: new Float32Array(3 * count), normals: new Float32Array(3 * count) };
  const v = new THREE.Vector3();
  for (let k = 0; k < count; k++) {
    flat.points.set([piece.way.lying[2 * k], piece.way.lying[2 * k + 1], 0], 3 * k);
    flat.normals.set([0, 0, 1], 3 * k);
    v.fromArray(points, 3 * piece.shell[k]).sub(there).applyQuaternion(end).toArray(curved.points, 3 * k);
    v.fromArray(normals, 3 * piece.shell[k]).applyQuaternion(end).toArray(curved.normals, 3 * k);
  }
  return { flat, curved, turn };
}

export function tilt(vector, share) {
  const axis = new THREE.Vector3(...vector);
  const angle = axis.length();
  return new THREE.Quaternion().setFromAxisAngle(angle > 0 ? axis.normalize() : axis.set(1, 0, 0), share * angle);
}

// Closed loops of vertices along the edge, counter-clockwise.
export function loops(faces) {
  const count = new Map();
  for (let f = 0; f < faces.length; f += 3)
    for (let k = 0; k < 3; k++) count.set(`${faces[f + k]} ${faces[f + ((k + 1) % 3)]}`, [faces[f + k], faces[f + ((k + 1) % 3)]]);
  const after = new Map();
  for (const [i, j] of count.values()) if (!count.has(`${j} ${i}`)) after.set(i, j);
  const found = [];
  while (after.size) {
    const loop = [];
    let at = after.keys().next().value;
    while (after.has(at)) {
      loop.push(at);
      const next = after.get(at);
      after.delete(at);
      at = next;
    }
    found.push(loop);
  }
  return found;
}

// Unit vector to the left of a polyline at its k-th vertex, in the surface.
function leftOf(shape, chain, k, closed) {
  const n = chain.length;
  const back = closed ? chain[(k + n - 1) % n] : chain[Math.max(k - 1, 0)];
  const ahead = closed ? chain[(k + 1) % n] : chain[Math.min(k + 1, n - 1)];
  const along = new THREE.Vector3().fromArray(shape.points, 3 * ahead).sub(new THREE.Vector3().fromArray(shape.points, 3 * back));
  return new THREE.Vector3().fromArray(shape.normals, 3 * chain[k]).cross(along).normalize();
}

function morphing(index, sides) {
  const geometry = new THREE.BufferGeometry();
  const attribute = (values) => new THREE.BufferAttribute(Float32Array.from(values), 3);
  geometry.setIndex(index);
  geometry.setAttribute("position", attribute(sides[0].position));
  geometry.setAttribute("normal", attribute(sides[0].normal));
  geometry.morphAttributes.position = [attribute(sides[1].position)];
  geometry.morphAttributes.normal = [attribute(sides[1].normal)];
  return geometry;
}

// Outer face, inner face and the wall between; the first `shell.length` vertices are the outer face.
export function slab(piece, both, outer, thickness) {
  const count = piece.shell.length;
  const edge = loops(piece.faces);
  const sides = [both.flat, both.curved].map((shape) => {
    const position = [], normal = [];
    const put = (vertex, height, facing) => {
      for (let k = 0; k < 3; k++) position.push(shape.points[3 * vertex + k] + height * shape.normals[3 * vertex + k]);
      normal.push(...facing);
    };
    for (const [height, sign] of [[outer, 1], [outer - thickness, -1]])
      for (let v = 0; v < count; v++) put(v, height, [0, 1, 2].map((k) => sign * shape.normals[3 * v + k]));
    for (const loop of edge)
      loop.forEach((v, k) => {
        const out = leftOf(shape, loop, k, true).negate().toArray();
        put(v, outer, out);
        put(v, outer - thickness, out);
      });
    return { position, normal };
  });
  const index = [...piece.faces];
  for (let f = 0; f < piece.faces.length; f += 3) index.push(piece.faces[f] + count, piece.faces[f + 2] + count, piece.faces[f + 1] + count);
  let first = 2 * count;
  for (const loop of edge) {
    loop.forEach((_, k) => {
      const a = first + 2 * k, b = first + 2 * ((k + 1) % loop.length);
      index.push(a, a + 1, b, b, a + 1, b + 1);
    });
    first += 2 * loop.length;
  }
  return morphing(index, sides);
}

// Plate lines as ribbons on the outer face: whole ones within the piece, half ones along its edge.
export function ribbons(piece, both, outer) {
  const index = [];
  const sides = [both.flat, both.curved].map(() => ({ position: [], normal: [] }));
  const strip = (chain, left, right) => {
    const first = sides[0].position.length / 3;
    [both.flat, both.curved].forEach((shape, s) => {
      chain.forEach((v, k) => {
        const aside = leftOf(shape, chain, k, false).toArray();
        for (const reach of [left, right]) {
          for (let c = 0; c < 3; c++)
            sides[s].position.push(shape.points[3 * v + c] + (outer + LIFT) * shape.normals[3 * v + c] + reach * aside[c]);
          sides[s].normal.push(...shape.normals.slice(3 * v, 3 * v + 3));
        }
      });
    });
    for (let k = 0; k + 1 < chain.length; k++) {
      const a = first + 2 * k;
      index.push(a, a + 1, a + 2, a + 2, a + 1, a + 3);
    }
  };
  for (const chain of piece.lines) strip([...chain], WIDTH / 2, -WIDTH / 2);
  for (const chain of piece.edges) strip([...chain], WIDTH / 2, 0);
  return index.length ? morphing(index, sides) : null;
}
