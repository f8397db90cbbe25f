// Light and surroundings: sky, key light with its shadow, fill light, and the ground.

import * as THREE from "three";

const FROM = new THREE.Vector3(0.55, 0.75, 1.5).normalize(); // of the key light
const GAP = 0.5; // mm between the lowest foam and the ground

export class Light {
  constructor(scene, camera) {
    const sky = new THREE.HemisphereLight(0xffffff, 0x8d9a8c, 1.5);
    sky.position.set(0, 0, 1);
    this.key = new THREE.DirectionalLight(0xfff6e6, 2.1);
    this.key.castShadow = true;
    this.key.shadow.mapSize.set(2048, 2048);
    this.key.shadow.normalBias = 2.5;
    const fill = new THREE.DirectionalLight(0xdfeaff, 0.7);
    fill.position.set(-1, 0.6, 0.4); // to the left of the point of view
    camera.add(fill);
    this.ground = new THREE.Mesh(new THREE.PlaneGeometry(1e4, 1e4), new THREE.ShadowMaterial({ opacity: 0.2 }));
    this.ground.receiveShadow = true;
    scene.add(sky, this.key, this.key.target, camera, this.ground);
  }

  // Lights everything within a distance of a point.
  aim(middle, reach) {
    this.key.target.position.copy(middle);
    this.key.position.copy(middle).addScaledVector(FROM, 3 * reach);
    Object.assign(this.key.shadow.camera, { left: -reach, right: reach, top: reach, bottom: -reach, near: reach, far: 6 * reach });
    this.key.shadow.camera.updateProjectionMatrix();
  }

  // Puts the ground below foam that reaches down this far.
  standOn(lowest) {
    this.ground.position.z = lowest - GAP;
  }
}
