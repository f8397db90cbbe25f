// What colour everything has: as painted, as its shade lies, by piece, or by what forming asks of the foam.

import * as THREE from "three";

// Muted tones of one lightness, told apart by hue; names and outlines say the same.
export const TINTS = ["#7fa3a6", "#c2a36b", "#8f9ec2", "#a9b67a", "#c08f86", "#86a98b", "#b39bb3"];
const FEW = new THREE.Color("#2f6fb0"), NONE = new THREE.Color("#f1efe6"), MUCH = new THREE.Color("#c9541f");
const LIT = new THREE.Color("#ffdf9e"); // the chosen piece
const WALL = 0.82; // the cut edge is shown this much darker than the face
const BARE = { plates: [146, 158, 112], inside: [92, 88, 80] };

export const sRGB = ([r, g, b]) => new THREE.Color().setRGB(r / 255, g / 255, b / 255, THREE.SRGBColorSpace);

// Colours the pieces' vertices; the first of them are the outer face, the rest the inner face and the cut edge.
export function paint(pieces, data, mode, selected) {
  const colour = new THREE.Color(), bare = { ...BARE, ...data.colours };
  const look = data.looks?.[mode], tones = look?.tones.map(sRGB), plates = sRGB(bare.plates), inside = sRGB(look?.inside ?? bare.inside);
  for (const mesh of pieces) {
    const { piece } = mesh.userData, to = mesh.geometry.attributes.color, count = piece.shell.length;
    const tint = new THREE.Color(TINTS[piece.tint]);
    for (let v = 0; v < count; v++) {
      if (mode === "pieces") colour.copy(tint);
      else if (mode === "stretch") {
        const s = piece.stretch[v] / data.stretch;
        colour.copy(NONE).lerp(s < 0 ? FEW : MUCH, Math.min(Math.abs(s), 1));
      } else colour.copy(tones ? tones[data.tones[piece.shell[v]]] : plates);
      if (piece.name === selected) colour.lerp(LIT, 0.5);
      colour.toArray(to.array, 3 * v);
    }
    const wall = (mode === "pieces" ? tint : inside).clone().multiplyScalar(WALL);
    for (let v = count; v < to.count; v++) wall.toArray(to.array, 3 * v);
    to.needsUpdate = true;
  }
}
