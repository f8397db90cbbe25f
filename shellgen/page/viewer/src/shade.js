// The shade on the foam, read at every pixel from a chart of the whole dome: its outlines do not show the mesh.

import * as THREE from "three";

const VERTEX = ["#include <begin_vertex>", "#include <begin_vertex>\nonChart = 0.5 * disc + 0.5;"];
const FRAGMENT = ["#include <color_fragment>", `
  float shade = texture2D(chart, onChart).r, soft = 0.7 * fwidth(shade) + 1e-4;
  vec3 tone = mix(tones[0], tones[1], smoothstep(levels.x - soft, levels.x + soft, shade));
  tone = mix(tone, tones[2], smoothstep(levels.y - soft, levels.y + soft, shade));
  diffuseColor.rgb = mix(tone, vColor.rgb, vColor.a);`];

// The foam's material. A vertex's colour covers the tones by its alpha: with 1 no shade is visible.
export class Foam extends THREE.MeshStandardMaterial {
  constructor() {
    super({ vertexColors: true, roughness: 0.92, side: THREE.DoubleSide });
    this.tones = [0, 1, 2].map(() => new THREE.Color());
    this.uniforms = { chart: { value: null }, levels: { value: [1, 1] }, tones: { value: this.tones } };
  }

  onBeforeCompile(shader) {
    Object.assign(shader.uniforms, this.uniforms);
    shader.vertexShader = `attribute vec2 disc;\nvarying vec2 onChart;\n${shader.vertexShader.replace(...VERTEX)}`;
    const own = "uniform sampler2D chart;\nuniform vec2 levels;\nuniform vec3 tones[3];\nvarying vec2 onChart;\n";
    shader.fragmentShader = own + shader.fragmentShader.replace(...FRAGMENT);
  }

  // The shading of a new shell, or of one that has none yet.
  read(shade) {
    this.uniforms.chart.value?.dispose();
    const side = shade ? Math.sqrt(shade.chart.length) : 1;
    const chart = new THREE.DataTexture(shade?.chart ?? new Uint8Array(1), side, side, THREE.RedFormat);
    chart.magFilter = chart.minFilter = THREE.LinearFilter;
    chart.needsUpdate = true;
    this.uniforms.chart.value = chart;
    this.uniforms.levels.value = shade?.levels ?? [1, 1];
  }
}

// Position on the unit disc of each vertex of a piece's outer face; other vertices have none.
export function onDisc(piece, disc, count) {
  const places = new Float32Array(2 * count);
  if (disc) piece.shell.forEach((at, v) => places.set([disc[2 * at], disc[2 * at + 1]], 2 * v));
  return new THREE.BufferAttribute(places, 2);
}
