// The colour of everything: finished, shading, by piece, or by stretch in forming.

import * as THREE from "three";

// Muted tones of equal lightness and different hue; names and outlines show the same.
export const TINTS = ["#7fa3a6", "#c2a36b", "#8f9ec2", "#a9b67a", "#c08f86", "#86a98b", "#b39bb3"];
const [FEW, NONE, MUCH] = ["#2f6fb0", "#f1efe6", "#c9541f"].map((hex) => new THREE.Color(hex).convertLinearToSRGB()); // mixed as in the legend
const LIT = new THREE.Color("#ffdf9e"); // the chosen piece
const CHOSEN = 0.35; // share of that light in the colour of the chosen piece
const WALL = 0.82; // the cut edge is shown this much darker than the face
const BARE = { plates: [168, 168, 168], inside: [92, 92, 92] }; // neutral: no colour is chosen yet

export const sRGB = ([r, g, b]) => new THREE.Color().setRGB(r / 255, g / 255, b / 255, THREE.SRGBColorSpace);

// Colours the pieces' vertices; the first of them are the outer face, the rest the inner face and the cut edge.
// shades : takes the colours of the tones, which are visible where a vertex's own alpha is less than 1
export function paint(pieces, data, mode, selected, shades) {
  const colour = new THREE.Color(), bare = { ...BARE, ...data.colours };
  const look = data.looks?.[mode], plates = sRGB(bare.plates), inside = sRGB(look?.inside ?? bare.inside);
  look?.tones.forEach((tone, k) => shades[k].copy(sRGB(tone)));
  for (const mesh of pieces) {
    const { piece } = mesh.userData, to = mesh.geometry.attributes.color, count = piece.shell.length;
    const tint = new THREE.Color(TINTS[piece.tint]), chosen = piece.name === selected;
    for (let v = 0; v < count; v++) {
      if (mode === "pieces") colour.copy(tint);
      else if (mode === "stretch") {
        const s = piece.stretch[v] / data.stretch;
        colour.copy(NONE).lerp(s < 0 ? FEW : MUCH, Math.min(Math.abs(s), 1)).convertSRGBToLinear();
      } else colour.copy(look ? LIT : plates);
      if (chosen) colour.lerp(LIT, CHOSEN);
      to.setXYZW(v, colour.r, colour.g, colour.b, look ? (chosen ? CHOSEN : 0) : 1);
    }
    const wall = (mode === "pieces" ? tint : inside).clone().multiplyScalar(WALL);
    for (let v = count; v < to.count; v++) to.setXYZW(v, wall.r, wall.g, wall.b, 1);
    to.needsUpdate = true;
  }
}
