// The 3D view: drawn when something changes, never in a loop.

import {
  AmbientLight, BufferAttribute, BufferGeometry, Color, DirectionalLight, DoubleSide, HemisphereLight, LineBasicMaterial,
  LineSegments, Mesh, MeshBasicMaterial, MeshLambertMaterial, PerspectiveCamera, Plane, Raycaster, Scene, Vector2, Vector3,
  WebGLRenderer,
} from "three";
import { OrbitControls } from "three/examples/jsm/controls/OrbitControls.js";
import type { Point } from "./axes";
import { Building, type Materials } from "./building";
import { type Takeoff, word } from "./data";
import { type Colouring, colouring } from "./palette";
import type { Hit, PickKind } from "./picking";
import type { State } from "./state";

export type Part = "walls" | "cavities" | "members" | "openings" | "holes";
export type Side = "front" | "back" | "left" | "right" | "top" | "bottom" | "corner";
export type SectionAxis = "off" | "x" | "y" | "z";

export class View {
  readonly parts: Record<Part, boolean> = { walls: true, cavities: true, members: true, openings: true, holes: true };
  /** Storeys up to this one are drawn; with `alone` this one only. */
  storey: number;
  alone = false;
  section: { axis: SectionAxis; share: number; flipped: boolean } = { axis: "off", share: 0.5, flipped: false };
  colours: Colouring;
  /** Called after each drawing that the reader caused. */
  onDraw: () => void = () => {};
  private readonly renderer: WebGLRenderer;
  private readonly scene = new Scene();
  private readonly camera = new PerspectiveCamera(32, 1, 0.1, 2000);
  private readonly controls: OrbitControls;
  private readonly building: Building;
  private readonly materials: ReturnType<typeof makeMaterials>;
  private readonly mark: { faces: Mesh; edges: LineSegments };
  private readonly plane = new Plane();
  private readonly takeoff: Takeoff;
  /** Level directions in which most walls run: to the right and to the back. */
  private readonly right: Vector3;
  private readonly back: Vector3;
  /** m; nothing drawn lies farther behind the point that the camera looks at. */
  private readonly span: number;
  private waiting = false;

  constructor(private readonly canvas: HTMLCanvasElement, private readonly state: State) {
    this.takeoff = state.takeoff;
    this.renderer = new WebGLRenderer({ canvas, antialias: true, preserveDrawingBuffer: true });
    this.renderer.setPixelRatio(Math.min(2, window.devicePixelRatio));
    this.materials = makeMaterials();
    this.building = new Building(this.takeoff, this.materials);
    this.storey = this.takeoff.storeys.length - 1;
    this.span = 100 + 4 * this.building.pointsOf(this.shownWalls())
      .reduce((most, point) => Math.max(most, Math.hypot(...point)), 0);
    for (const pieces of this.building.pieces) this.scene.add(pieces.object);
    this.scene.add(...this.building.holes);
    this.mark = {
      faces: new Mesh(new BufferGeometry(), this.materials.markFaces),
      edges: new LineSegments(new BufferGeometry(), this.materials.markEdges),
    };
    this.mark.edges.renderOrder = 2;
    this.scene.add(this.mark.faces, this.mark.edges);
    [this.right, this.back] = planDirections(this.takeoff);
    this.light();
    this.camera.up.set(0, 0, 1);
    this.controls = new OrbitControls(this.camera, canvas);
    this.controls.enableDamping = false;
    this.controls.screenSpacePanning = true;
    this.controls.zoomToCursor = true;
    this.controls.addEventListener("change", () => this.draw());
    this.colours = this.recolour();
    this.retheme();
    this.refilter();
    this.resize();
    this.look("corner");
    new ResizeObserver(() => this.resize()).observe(canvas.parentElement ?? canvas);
  }

  /** Wheel zooms only once the reader has gone into the view, so that the page still scrolls over it. */
  set wheelZooms(on: boolean) { this.controls.enableZoom = on; }

  draw(): void {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => {
      this.waiting = false;
      this.drawNow();
      this.onDraw();
    });
  }

  /** Draws at once. */
  drawNow(): void {
    const far = this.camera.position.distanceTo(this.controls.target);
    this.camera.near = Math.max(0.02, far / 200);
    this.camera.far = far + this.span;
    this.camera.updateProjectionMatrix();
    this.renderer.render(this.scene, this.camera);
  }

  resize(): void {
    const { clientWidth, clientHeight } = this.canvas.parentElement ?? this.canvas;
    if (clientWidth === 0 || clientHeight === 0) return;
    this.renderer.setSize(clientWidth, clientHeight, false);
    this.camera.aspect = clientWidth / clientHeight;
    this.camera.updateProjectionMatrix();
    this.draw();
  }

  recolour(): Colouring {
    this.colours = colouring(this.takeoff, this.state.colour, this.state.units, (row) => this.isCavityShown(row));
    for (const pieces of [this.building.cavityBoxes, this.building.cavityRest]) pieces.paint(this.colours.colourOf);
    const roles = this.takeoff.data.members.role;
    const style = getComputedStyle(document.documentElement);
    const [plain, obstruction] = ["--member", "--obstruction"].map((name) => style.getPropertyValue(name).trim());
    const member = (id: number): string => (word(roles, id) === "obstruction" ? obstruction : plain) ?? "#888888";
    for (const pieces of [this.building.memberBoxes, this.building.memberRest]) pieces.paint(member);
    this.building.cavityBoxes.show((row) => this.isDrawn("cavity", row));
    this.building.memberBoxes.show((row) => this.isDrawn("member", row));
    this.draw();
    return this.colours;
  }

  /** Draws again what the filters, the storey and the parts leave. */
  refilter(): void {
    const { building } = this;
    for (const pieces of [building.cavityBoxes, building.cavityRest]) pieces.show((row) => this.isDrawn("cavity", row));
    for (const pieces of [building.memberBoxes, building.memberRest]) pieces.show((row) => this.isDrawn("member", row));
    for (const pieces of [building.ghosts, building.wallEdges]) pieces.show((row) => this.isDrawn("wall", row));
    building.openings.show((wall) => this.parts.openings && this.isWallShown(wall));
    building.showHoles((cavity) => this.isCavityShown(cavity), this.parts.holes);
    this.reselect();
  }

  reselect(): void {
    const { cavity, wall } = this.state;
    const shown = wall >= 0 && this.isWallShown(wall);
    const shape = shown && cavity >= 0 ? this.building.cavityShape(cavity) : null;
    const edges = shape?.edges ?? (shown ? this.wallOutline(wall) : new Float32Array(0));
    const replace = (object: Mesh | LineSegments, corners: Float32Array): void => {
      object.geometry.dispose();
      object.geometry = new BufferGeometry().setAttribute("position", new BufferAttribute(corners, 3));
      object.frustumCulled = false;
      object.visible = corners.length > 0;
    };
    replace(this.mark.faces, shape?.faces ?? new Float32Array(0));
    replace(this.mark.edges, edges);
    this.draw();
  }

  retheme(): void {
    const style = getComputedStyle(document.documentElement);
    const colour = (name: string): Color => new Color(style.getPropertyValue(name).trim());
    this.scene.background = colour("--view");
    this.materials.ghost.color = colour("--ghost");
    this.materials.wallEdge.color = colour("--wall-edge");
    this.materials.opening.color = colour("--opening");
    this.materials.lowerHole.color = colour("--hole");
    this.materials.upperHole.color = colour("--hole");
    this.materials.markEdges.color = colour("--mark");
    this.materials.markFaces.color = colour("--mark");
    this.recolour();
  }

  /** Draws one side of the section plane only. */
  resection(): void {
    const { axis, share, flipped } = this.section;
    if (axis === "off") this.renderer.clippingPlanes = [];
    else {
      const normal = axis === "x" ? this.right.clone() : axis === "y" ? this.back.clone() : new Vector3(0, 0, 1);
      const places = this.building.pointsOf(this.shownWalls()).map((point) => normal.dot(new Vector3(...point)));
      const [low, high] = [least(places), -least(places.map((place) => -place))];
      const at = low + (high - low) * share;
      if (flipped) this.plane.set(normal, -at);
      else this.plane.set(normal.negate(), at);
      this.renderer.clippingPlanes = [this.plane];
    }
    this.draw();
  }

  look(side: Side): void {
    const [r, b, up] = [this.right, this.back, new Vector3(0, 0, 1)];
    const ways: Record<Side, Vector3> = {
      front: b.clone().negate(), back: b.clone(), left: r.clone().negate(), right: r.clone(),
      top: up.clone().addScaledVector(b, -1e-3), bottom: up.clone().negate().addScaledVector(b, -1e-3),
      corner: b.clone().negate().addScaledVector(r, -0.75).addScaledVector(up, 0.7),
    };
    this.frame(this.building.pointsOf(this.shownWalls()), ways[side].normalize());
  }

  /** Moves the camera so that what is shown fills the view; its direction stays. */
  fit(): void { this.frame(this.building.pointsOf(this.shownWalls()), this.direction()); }

  fitSelection(): void {
    const { wall, cavity } = this.state;
    if (wall < 0) return;
    const edges = cavity >= 0 ? this.building.cavityShape(cavity).edges : null;
    const points: Point[] = edges === null ? this.building.pointsOf([wall]) : [];
    for (let i = 0; edges !== null && i < edges.length; i += 3) points.push(Array.from(edges.subarray(i, i + 3)) as Point);
    this.frame(points, this.fillSide(this.state.layer, cavity));
  }

  turn(across: number, up: number): void {
    const offset = this.camera.position.clone().sub(this.controls.target);
    const level = Math.hypot(offset.x, offset.y);
    const height = Math.min(1.55, Math.max(-1.55, Math.atan2(offset.z, level) + up));
    const angle = Math.atan2(offset.y, offset.x) + across;
    const far = offset.length();
    offset.set(far * Math.cos(height) * Math.cos(angle), far * Math.cos(height) * Math.sin(angle), far * Math.sin(height));
    this.camera.position.copy(this.controls.target).add(offset);
    this.controls.update();
    this.draw();
  }

  move(right: number, up: number): void {
    const far = this.camera.position.distanceTo(this.controls.target);
    const shift = new Vector3().setFromMatrixColumn(this.camera.matrix, 0).multiplyScalar(right * far)
      .addScaledVector(new Vector3().setFromMatrixColumn(this.camera.matrix, 1), up * far);
    this.camera.position.add(shift);
    this.controls.target.add(shift);
    this.controls.update();
    this.draw();
  }

  zoom(factor: number): void {
    this.camera.position.sub(this.controls.target).multiplyScalar(factor).add(this.controls.target);
    this.controls.update();
    this.draw();
  }

  /** What lies under a place of the canvas, in pixels from its corner. */
  pick(x: number, y: number): Hit | null {
    const place = new Vector2(2 * x / this.canvas.clientWidth - 1, 1 - 2 * y / this.canvas.clientHeight);
    const caster = new Raycaster();
    this.camera.updateMatrixWorld();
    caster.setFromCamera(place, this.camera);
    const plane = this.renderer.clippingPlanes.length > 0 ? this.plane : null;
    const solid = (kind: PickKind, id: number): boolean => kind !== "wall" && this.isDrawn(kind, id);
    return this.nearest(caster, plane, solid) ?? this.nearest(caster, plane, (kind, id) => this.isDrawn(kind, id));
  }

  /** Where the middle of a cavity is seen, in pixels from the canvas's corner. */
  placeOf(cavity: number): [number, number] {
    const { faces } = this.building.cavityShape(cavity);
    const middle = new Vector3();
    for (let i = 0; i < faces.length; i += 3) middle.add(new Vector3().fromArray(faces, i));
    this.camera.updateMatrixWorld();
    middle.divideScalar(faces.length / 3).project(this.camera);
    return [(middle.x + 1) / 2 * this.canvas.clientWidth, (1 - middle.y) / 2 * this.canvas.clientHeight];
  }

  /** Whether a cavity may be drawn; a gap that is an opening is none. */
  isCavityShown(cavity: number): boolean {
    return word(this.takeoff.data.cavities.kind, cavity) !== "opening_gap" && this.state.isCavityShown(cavity) && this.isStoreyShown(this.takeoff.wallOf(cavity));
  }

  private nearest(caster: Raycaster, plane: Plane | null, isShown: (kind: PickKind, id: number) => boolean): Hit | null {
    let best: Hit | null = null;
    for (const group of this.building.groups) {
      const hit = group.nearest(caster.ray, plane, isShown);
      if (hit !== null && (best === null || hit.distance < best.distance)) best = hit;
    }
    return best;
  }

  private isDrawn(kind: PickKind, id: number): boolean {
    if (kind === "cavity") return this.parts.cavities && this.isCavityShown(id);
    if (kind === "wall") return this.parts.walls && this.isWallShown(id);
    const { members, layers } = this.takeoff.data;
    return this.parts.members && this.isWallShown(layers.wall[members.layer[id]!]!);
  }

  private isStoreyShown(wall: number): boolean {
    const place = this.takeoff.storeys.indexOf(word(this.takeoff.data.walls.storey, wall));
    return this.alone ? place === this.storey : place <= this.storey;
  }

  private isWallShown(wall: number): boolean { return this.state.isWallShown(wall) && this.isStoreyShown(wall); }

  private shownWalls(): number[] {
    const walls = Array.from({ length: this.takeoff.wallCount }, (_, wall) => wall);
    const shown = walls.filter((wall) => this.isWallShown(wall));
    return shown.length > 0 ? shown : walls;
  }

  private wallOutline(wall: number): Float32Array {
    const { wallEdges } = this.building;
    const position = wallEdges.object.geometry.getAttribute("position").array as Float32Array;
    return position.slice(3 * wallEdges.starts[wall]!, 3 * wallEdges.starts[wall + 1]!);
  }

  private direction(): Vector3 { return this.camera.position.clone().sub(this.controls.target).normalize(); }

  /** From the fill side, a little from above and aside; of a curved wall from where the cavity is. */
  private fillSide(layer: number, cavity: number): Vector3 {
    if (layer < 0) return this.direction();
    const axes = this.building.axes[layer]!;
    const { cavities } = this.takeoff.data;
    const x = cavity >= 0 ? (cavities.x_min_m[cavity]! + cavities.x_max_m[cavity]!) / 2
      : (this.takeoff.data.walls.length_m[this.state.wall] ?? 0) / 2;
    const [at, right, out] = [axes.world(x, 0, 0), axes.world(x + 0.01, 0, 0), axes.world(x, -0.01, 0)]
      .map((point) => new Vector3(...point)) as [Vector3, Vector3, Vector3];
    return out.sub(at).normalize().addScaledVector(right.sub(at).normalize(), 0.35).add(new Vector3(0, 0, 0.35)).normalize();
  }

  private frame(points: Point[], direction: Vector3): void {
    if (points.length === 0) return;
    const vectors = points.map((point) => new Vector3(...point));
    const low = vectors[0]!.clone();
    const high = vectors[0]!.clone();
    for (const vector of vectors) { low.min(vector); high.max(vector); }
    const centre = low.clone().add(high).multiplyScalar(0.5);
    const away = direction.clone();
    const across = new Vector3().crossVectors(this.camera.up, away);
    if (across.lengthSq() < 1e-12) across.copy(this.right);
    across.normalize();
    const above = new Vector3().crossVectors(away, across);
    const slope = Math.tan(this.camera.fov * Math.PI / 360) * 0.92;
    let far = 0.5;
    for (const vector of vectors) {
      const from = vector.clone().sub(centre);
      const depth = from.dot(away);
      far = Math.max(far, depth + Math.abs(from.dot(above)) / slope,
        depth + Math.abs(from.dot(across)) / (slope * Math.max(0.2, this.camera.aspect)));
    }
    this.controls.target.copy(centre);
    this.camera.position.copy(centre).addScaledVector(away, far);
    this.controls.update();
    this.draw();
  }

  private light(): void {
    const sun = new DirectionalLight(0xffffff, 1.35);
    sun.position.copy(this.back).multiplyScalar(-0.6).addScaledVector(this.right, -1).add(new Vector3(0, 0, 1.6));
    this.scene.add(new AmbientLight(0xffffff, 1.55), new HemisphereLight(0xffffff, 0x9a9aa2, 1.0), sun);
  }
}

function makeMaterials() {
  return {
    cavity: new MeshLambertMaterial({ side: DoubleSide }),
    cavityMerged: new MeshLambertMaterial({ side: DoubleSide, vertexColors: true }),
    member: new MeshLambertMaterial({ side: DoubleSide }),
    memberMerged: new MeshLambertMaterial({ side: DoubleSide, vertexColors: true }),
    ghost: new MeshBasicMaterial({
      side: DoubleSide, transparent: true, opacity: 0.1, depthWrite: false,
      polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1,
    }),
    wallEdge: new LineBasicMaterial(),
    opening: new LineBasicMaterial(),
    lowerHole: new MeshBasicMaterial({ side: DoubleSide }),
    upperHole: new MeshBasicMaterial({ side: DoubleSide }),
    markFaces: new MeshBasicMaterial({
      side: DoubleSide, transparent: true, opacity: 0.45, depthTest: false, depthWrite: false,
    }),
    markEdges: new LineBasicMaterial({ depthTest: false }),
  } satisfies Materials & Record<string, unknown>;
}

/** The two level directions along which most length of wall runs, the first nearest to world x. */
function planDirections(takeoff: Takeoff): [Vector3, Vector3] {
  let [ahead, aside] = [0, 0];
  takeoff.data.layers.axes.forEach((axes, layer) => {
    const angle = 4 * Math.atan2(axes[4]!, axes[3]!);
    const weight = takeoff.data.walls.length_m[takeoff.data.layers.wall[layer]!] ?? 1;
    ahead += weight * Math.cos(angle);
    aside += weight * Math.sin(angle);
  });
  const angle = Math.hypot(ahead, aside) > 1e-6 ? Math.atan2(aside, ahead) / 4 : 0;
  return [new Vector3(Math.cos(angle), Math.sin(angle), 0), new Vector3(-Math.sin(angle), Math.cos(angle), 0)];
}

const least = (values: number[]): number => values.reduce((low, value) => Math.min(low, value), Infinity);
