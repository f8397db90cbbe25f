// The 3-D view: camera, light, pieces and everything on them. Draws only when something has changed.

import * as THREE from "three";
import { OrbitControls } from "three/examples/jsm/controls/OrbitControls.js";
import { paint, sRGB } from "./colours.js";
import { Eye } from "./eye.js";
import { lowest, ribbons, shapes, shellNormals, slab, tilt } from "./foam.js";
import { Light } from "./light.js";
import { Foam, onDisc } from "./shade.js";

const GROWN = 0.88; // share of the motion after which spikes and rings grow out of the foam
const ON_FOAM = ["spikes", "rings"]; // zones on the foam
const SMOOTH = ["spikes", "wearer"];

function discard(group) {
  group?.removeFromParent();
  group?.traverse((item) => {
    item.geometry?.dispose();
    item.dispose?.();
  });
}

function corners(min, max) {
  return [min.x, max.x].flatMap((x) => [min.y, max.y].flatMap((y) => [min.z, max.z].map((z) => new THREE.Vector3(x, y, z))));
}

export class Stage {
  constructor(canvas) {
    this.canvas = canvas;
    this.renderer = new THREE.WebGLRenderer({ canvas, antialias: true, alpha: true });
    this.renderer.setClearAlpha(0);
    this.renderer.shadowMap.enabled = true;
    this.renderer.shadowMap.autoUpdate = false; // turning the view moves no shadow
    this.renderer.shadowMap.type = THREE.PCFShadowMap;
    this.scene = new THREE.Scene();
    this.camera = new THREE.PerspectiveCamera(28, 1, 10, 20000);
    canvas.addEventListener("focus", () => (this.controls.enableZoom = true));
    canvas.addEventListener("blur", () => (this.controls.enableZoom = false));
    this.setUp(0, 0, 1);
    this.light = new Light(this.scene, this.camera);
    this.skin = new Foam();
    this.share = 1;
    this.mode = "finished";
    this.hidden = new Set(["wearer"]);
    this.materials = new Map();
    this.lineMaterial = new THREE.MeshBasicMaterial({ color: "#2c3327", side: THREE.DoubleSide, transparent: true, opacity: 0.82 });
    this.selected = null;
    this.onframe = () => {};
    new ResizeObserver(() => this.resize()).observe(canvas.parentElement);
  }

  // Which way is up: the crown of a shell on the table, the wearer's head. The controls read it only once.
  setUp(x, y, z) {
    this.controls?.dispose();
    this.camera.up.set(x, y, z);
    this.controls = new OrbitControls(this.camera, this.canvas);
    this.controls.enableDamping = !matchMedia("(prefers-reduced-motion: reduce)").matches;
    this.controls.enablePan = false;
    this.controls.enableZoom = document.activeElement === this.canvas; // otherwise the wheel scrolls the page
    this.controls.addEventListener("change", () => this.invalidate());
    this.eye = new Eye(this.camera, this.controls, () => this.inPicture());
  }

  show(data, parts) {
    const stance = this.stance();
    discard(this.world);
    this.data = data;
    this.world = new THREE.Group();
    this.pieces = this.foam(data);
    this.world.add(...this.pieces);
    this.scene.add(this.world);
    this.stand(parts, stance);
    this.paint();
    if (!stance) this.look("three-quarter");
  }

  // Replaces the parts on the foam and keeps the zoom.
  stand(parts, stance = this.stance()) {
    discard(this.standing);
    this.standing = parts.reduce((group, part) => group.add(this.part(part)), new THREE.Group());
    this.scene.add(this.standing);
    this.measure();
    this.move(stance);
    if (this.camera.up.x && !parts.some(({ zone }) => zone === "wearer")) this.hide("wearer", true); // the wearer was removed
  }

  foam(data) {
    const normals = shellNormals(data.points, data.pieces);
    this.lowest = lowest(data, normals);
    this.skin.read(data.shade);
    return data.pieces.map((piece) => {
      const both = shapes(piece, data.points, normals);
      const geometry = slab(piece, both, data.outer, data.thickness);
      const { count } = geometry.attributes.position;
      geometry.setAttribute("color", new THREE.BufferAttribute(new Float32Array(4 * count), 4));
      geometry.setAttribute("disc", onDisc(piece, data.disc, count));
      const mesh = new THREE.Mesh(geometry, this.skin);
      mesh.castShadow = mesh.receiveShadow = true;
      mesh.frustumCulled = false;
      mesh.userData = { piece, turn: both.turn };
      const lines = ribbons(piece, both, data.outer);
      if (lines) {
        const drawn = new THREE.Mesh(lines, this.lineMaterial);
        drawn.frustumCulled = false;
        drawn.raycast = () => {};
        mesh.add(drawn);
      }
      return mesh;
    });
  }

  // Materials are reused from shell to shell: compiling them takes longer than everything else.
  material(name, look) {
    if (!this.materials.has(name)) this.materials.set(name, new THREE.MeshStandardMaterial(look));
    return this.materials.get(name);
  }

  // The material of a part on the foam in the present mode.
  surface({ zone, colour, looks }) {
    const color = sRGB(looks?.[this.mode] ?? looks?.finished ?? colour), smooth = SMOOTH.includes(zone);
    return this.material(`${color.getHex()} ${smooth}`, { color, roughness: 0.85, flatShading: !smooth });
  }

  part(part) {
    const geometry = new THREE.BufferGeometry();
    geometry.setIndex(new THREE.BufferAttribute(part.faces, 1));
    geometry.setAttribute("position", new THREE.BufferAttribute(part.vertices, 3));
    if (SMOOTH.includes(part.zone)) geometry.computeVertexNormals();
    const mesh = new THREE.InstancedMesh(geometry, this.surface(part), part.places.length / 16);
    mesh.userData = { zone: part.zone, places: part.places, part };
    mesh.castShadow = mesh.receiveShadow = true;
    mesh.frustumCulled = false;
    return mesh;
  }

  // Points that span the shell, flat and as built, and the tips of the parts on it.
  measure() {
    const matrix = new THREE.Matrix4(), built = new THREE.Box3();
    this.reaches = this.pieces.flatMap((mesh) => {
      const { shell, way } = mesh.userData.piece, here = new THREE.Vector3(...way.here);
      const step = Math.ceil(shell.length / Math.max(60, 600 / this.pieces.length));
      return Array.from({ length: Math.ceil(shell.length / step) }, (_, k) => ({
        flat: new THREE.Vector3(way.lying[2 * k * step], way.lying[2 * k * step + 1], 0).applyQuaternion(mesh.userData.turn).add(here),
        built: new THREE.Vector3().fromArray(this.data.points, 3 * shell[k * step]),
      }));
    });
    this.tips = [];
    for (const mesh of this.standing.children) {
      mesh.geometry.computeBoundingBox();
      const { zone, places } = mesh.userData, { min, max } = mesh.geometry.boundingBox;
      const ends = ON_FOAM.includes(zone) ? [new THREE.Vector3((min.x + max.x) / 2, (min.y + max.y) / 2, max.z)] : corners(min, max);
      for (let k = 0; k < mesh.count; k++) for (const end of ends) this.tips.push({ zone, at: end.clone().applyMatrix4(matrix.fromArray(places, 16 * k).transpose()) });
    }
    for (const { built: at } of this.reaches) built.expandByPoint(at);
    const all = this.tips.reduce((box, { zone, at }) => (ON_FOAM.includes(zone) ? box.expandByPoint(at) : box), built.clone());
    for (const { flat } of this.reaches) all.expandByPoint(flat);
    this.light.aim(built.getCenter(new THREE.Vector3()), all.getSize(new THREE.Vector3()).length() / 2);
  }

  // What the picture must show: the shell at its stage between flat and built, and everything on it.
  inPicture() {
    const points = this.reaches.map(({ flat, built }) => flat.clone().lerp(built, this.share));
    if (this.share > GROWN) points.push(...this.tips.filter(({ zone }) => !this.hidden.has(zone)).map(({ at }) => at));
    return points;
  }

  look(name) {
    this.eye.look(name);
    this.invalidate();
  }

  stance() {
    return this.data ? this.eye.stance() : null;
  }

  setShare(share) {
    const stance = this.stance();
    this.share = share;
    this.move(stance);
  }

  move(stance) {
    const { share } = this;
    if (stance) this.eye.standBack(stance);
    this.light.standOn(THREE.MathUtils.lerp(this.lowest.flat, this.lowest.built, share));
    for (const mesh of this.pieces) {
      const { piece, turn } = mesh.userData;
      const here = new THREE.Vector3(...piece.way.here);
      mesh.position.copy(here.lerp(new THREE.Vector3(...piece.way.there), share));
      mesh.quaternion.copy(tilt(piece.way.tilt, share)).multiply(turn);
      mesh.morphTargetInfluences = [share];
      for (const lines of mesh.children) lines.morphTargetInfluences = [share];
    }
    this.place();
    this.invalidate();
  }

  // Spikes and rings are shown on the built shell only: they grow out of the foam at the end of the motion, and the
  // edging closes round the rim.
  place() {
    this.renderer.shadowMap.needsUpdate = true;
    const grown = THREE.MathUtils.smoothstep(this.share, GROWN, 1);
    for (const mesh of this.standing.children) {
      const riding = ON_FOAM.includes(mesh.userData.zone), closing = mesh.userData.zone === "rim";
      const size = riding ? Math.max(grown, 1e-3) : closing ? 1.1 - 0.1 * grown : 1;
      mesh.visible = !this.hidden.has(mesh.userData.zone) && (riding || closing ? grown > 0 : this.share === 1);
      const middle = mesh.userData.zone === "rings" ? mesh.geometry.boundingBox.getCenter(new THREE.Vector3()) : new THREE.Vector3();
      const shrink = new THREE.Matrix4().makeTranslation(middle).scale(new THREE.Vector3().setScalar(size)).multiply(new THREE.Matrix4().makeTranslation(middle.clone().negate()));
      for (let k = 0; k < mesh.count; k++) mesh.setMatrixAt(k, new THREE.Matrix4().fromArray(mesh.userData.places, 16 * k).transpose().multiply(shrink));
      mesh.instanceMatrix.needsUpdate = true;
    }
  }

  hide(zone, hidden) {
    const stance = this.stance();
    this.hidden[hidden ? "add" : "delete"](zone);
    if (zone !== "wearer") return this.move(stance);
    this.light.ground.visible = hidden;
    hidden ? this.setUp(0, 0, 1) : this.setUp(1, 0, 0);
    this.move(null);
    this.look("three-quarter");
  }

  setMode(mode) {
    this.mode = mode;
    this.paint();
    this.invalidate();
  }

  paint() {
    if (!this.data) return;
    paint(this.pieces, this.data, this.mode, this.selected, this.skin.tones);
    for (const mesh of this.standing.children) mesh.material = this.surface(mesh.userData.part);
  }

  select(name) {
    this.selected = name;
    this.setMode(this.mode);
  }

  // Name of the piece at a place on the screen, or null.
  pick(x, y) {
    const box = this.canvas.getBoundingClientRect();
    const at = new THREE.Vector2((2 * (x - box.left)) / box.width - 1, 1 - (2 * (y - box.top)) / box.height);
    const ray = new THREE.Raycaster();
    ray.setFromCamera(at, this.camera);
    return ray.intersectObjects(this.pieces, false)[0]?.object.userData.piece.name ?? null;
  }

  // Where the middle of each piece is on the screen, and whether its outside is visible.
  places() {
    const box = this.canvas.getBoundingClientRect();
    return this.pieces.map((mesh) => {
      const middle = mesh.localToWorld(new THREE.Vector3(0, 0, this.data.outer + 1));
      const facing = new THREE.Vector3(0, 0, 1).applyQuaternion(mesh.quaternion).dot(this.camera.position.clone().sub(middle)) > 0;
      const at = middle.project(this.camera);
      return { name: mesh.userData.piece.name, x: ((at.x + 1) * box.width) / 2, y: ((1 - at.y) * box.height) / 2, facing };
    });
  }

  turn(aside, up, nearer) {
    this.eye.turn(aside, up, nearer);
    this.invalidate();
  }

  resize() {
    const { clientWidth: width, clientHeight: height } = this.canvas.parentElement;
    if (!width || !height) return;
    const stance = this.stance();
    this.renderer.setPixelRatio(Math.min(devicePixelRatio, 2));
    this.renderer.setSize(width, height, false);
    this.camera.aspect = width / height;
    this.camera.updateProjectionMatrix();
    if (stance) this.eye.standBack(stance);
    this.invalidate();
  }

  invalidate() {
    if (this.waiting) return;
    this.waiting = requestAnimationFrame(() => {
      this.waiting = 0;
      this.controls.update(); // with damping, a change asks for another frame
      this.renderer.render(this.scene, this.camera);
      this.onframe();
    });
  }
}
