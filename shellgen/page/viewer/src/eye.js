// The point of view: the shell fills the picture, whatever its shape.

import * as THREE from "three";

const FILL = 0.86; // share of the picture that the shell takes
export const VIEWS = { "three-quarter": [0.62, 0.74, 0.55], top: [-0.0005, 0, 1], side: [0, 1, 0.12], front: [1, 0, 0.12], back: [-1, 0, 0.12] };
const WORN = { ...VIEWS, "three-quarter": [0.3, 0.75, 0.9], top: [0, 0, 1], side: [0, 1, 0] }; // the head is up

export class Eye {
  // points : returns the places, THREE.Vector3, that must be in the picture
  constructor(camera, controls, points) {
    Object.assign(this, { camera, controls, points });
  }

  // Where to look, and from how far along `way`, so that all points fill the picture.
  aim(way) {
    const back = way.clone().normalize();
    const right = this.camera.up.clone().cross(back).normalize(), up = back.clone().cross(right);
    const low = Math.tan((this.camera.fov * Math.PI) / 360), wide = low * this.camera.aspect;
    const points = this.points();
    const target = new THREE.Box3().setFromPoints(points).getCenter(new THREE.Vector3()), at = new THREE.Vector3();
    let distance = 1;
    for (let round = 0; round < 4; round++) {
      const seen = points.map((p) => at.copy(p).sub(target) && [at.dot(right), at.dot(up), at.dot(back)]);
      distance = Math.max(...seen.map(([x, y, z]) => z + Math.max(Math.abs(x) / wide, Math.abs(y) / low) / FILL));
      for (const [k, axis] of [right, up].entries()) {
        const shares = seen.map((p) => p[k] / (distance - p[2]));
        target.addScaledVector(axis, (distance * (Math.max(...shares) + Math.min(...shares))) / 2);
      }
    }
    return { target, distance };
  }

  look(name) {
    const way = new THREE.Vector3(...(this.camera.up.x ? WORN : VIEWS)[name]).normalize();
    this.standBack({ way, zoom: 1 });
    this.controls.update();
  }

  // How much closer than needed the view is, and its direction.
  stance() {
    const way = this.camera.position.clone().sub(this.controls.target);
    return { way, zoom: way.length() / this.aim(way).distance };
  }

  standBack({ way, zoom }) {
    const { target, distance } = this.aim(way);
    this.controls.target.copy(target);
    this.camera.position.copy(target).add(way.clone().setLength(zoom * distance));
  }

  turn(aside, up, nearer) {
    const upright = new THREE.Quaternion().setFromUnitVectors(this.camera.up, new THREE.Vector3(0, 1, 0));
    const way = this.camera.position.clone().sub(this.controls.target);
    const at = new THREE.Spherical().setFromVector3(way.applyQuaternion(upright));
    at.theta += aside;
    at.phi = THREE.MathUtils.clamp(at.phi + up, 0.01, Math.PI - 0.01);
    at.radius *= nearer;
    this.camera.position.copy(this.controls.target).add(way.setFromSpherical(at).applyQuaternion(upright.invert()));
    this.controls.update();
  }
}
