// The whole takeoff as drawable pieces and as things to point at.

import { Axes, type Point } from "./axes";
import { type Solid, STEP, Takeoff, extent, isPrism, isRectangle, polygons } from "./data";
import { Boxes, Merged, type Pieces } from "./pieces";
import { PickGroup, type PickKind } from "./picking";
import { Corners, addEdge, addMesh, addPrism, addPrismEdges, addSharpEdges } from "./solids";
import { CircleGeometry, type Material, InstancedBufferAttribute, InstancedMesh, Matrix4, RingGeometry } from "three";

export interface Materials {
  cavity: Material; cavityMerged: Material; member: Material; memberMerged: Material; ghost: Material;
  wallEdge: Material; opening: Material; lowerHole: Material; upperHole: Material;
}

/** m in front of the fill face where hole marks lie, so that they are seen on the cavity. */
const MARK_LIFT = 0.012;
const SMALLEST_MARK = 0.05;

export class Building {
  /** World place that is the zero of everything drawn. */
  readonly centre: Point;
  readonly axes: Axes[];
  readonly groups: PickGroup[] = [];
  readonly cavityBoxes: Boxes;
  readonly cavityRest: Merged;
  readonly memberBoxes: Boxes;
  readonly memberRest: Merged;
  readonly ghosts: Merged;
  readonly wallEdges: Merged;
  readonly openings: Merged;
  readonly holes: InstancedMesh[] = [];
  private readonly holeRows: number[][] = [[], []];
  private readonly layerBoxes: Point[][];
  private readonly bodyPoints: Point[][];

  constructor(private readonly takeoff: Takeoff, materials: Materials) {
    const { layers, bodies } = takeoff.data;
    this.centre = middle([
      ...layers.axes.map((axes) => axes.slice(0, 3) as Point),
      ...bodies.flat().map((mesh) => [0, 1, 2].map((i) => (mesh.v[i] ?? 0) * STEP) as Point),
    ]);
    this.axes = layers.axes.map((numbers) => new Axes(numbers, this.centre));
    this.layerBoxes = layers.body.map((body, layer) => cornersOf(body, this.axes[layer]!));
    this.bodyPoints = bodies.map((meshes) => meshes.flatMap((mesh) => {
      const points: Point[] = [];
      for (let i = 0; i + 2 < mesh.v.length; i += 3) points.push(this.placed(mesh.v.slice(i, i + 3) as Point));
      return points;
    }));
    this.axes.forEach((axes, layer) => {
      const group = new PickGroup(axes);
      group.enclose(this.layerBoxes[layer]!);
      this.groups.push(group);
    });
    [this.cavityBoxes, this.cavityRest] = this.solids("cavity", materials.cavity, materials.cavityMerged);
    [this.memberBoxes, this.memberRest] = this.solids("member", materials.member, materials.memberMerged);
    [this.ghosts, this.wallEdges] = this.walls(materials.ghost, materials.wallEdge);
    this.openings = this.openingLines(materials.opening);
    this.makeHoles(materials);
  }

  get pieces(): Pieces[] {
    return [this.cavityBoxes, this.cavityRest, this.memberBoxes, this.memberRest, this.ghosts, this.wallEdges,
      this.openings];
  }

  /** Points round the walls named; all where none is. */
  pointsOf(walls: Iterable<number>): Point[] {
    const points: Point[] = [];
    for (const wall of walls) {
      points.push(...this.bodyPoints[wall]!);
      for (const layer of this.takeoff.layersOfWall[wall]!) points.push(...this.layerBoxes[layer]!);
    }
    return points;
  }

  /** Triangles and edges of one cavity, for the mark of what is selected. */
  cavityShape(cavity: number): { faces: Float32Array; edges: Float32Array } {
    const { cavities } = this.takeoff.data;
    const axes = this.axes[cavities.layer[cavity]!]!;
    const [y0, y1] = cavities.y[cavity]!.map((value) => value * STEP) as [number, number];
    const [faces, edges] = [new Corners(), new Corners()];
    addPrism(faces, cavities.shape[cavity]!, y0, y1, axes);
    addPrismEdges(edges, cavities.shape[cavity]!, y0, y1, axes);
    return { faces: faces.done(), edges: edges.done() };
  }

  showHoles(isShown: (cavity: number) => boolean, wanted: boolean): void {
    const { holes, cavities } = this.takeoff.data;
    this.holes.forEach((mesh, upper) => {
      const matrix = new Matrix4();
      let count = 0;
      for (const hole of this.holeRows[upper]!) {
        const cavity = holes.cavity[hole]!;
        if (!wanted || !isShown(cavity)) continue;
        const axes = this.axes[cavities.layer[cavity]!]!;
        const [x, z] = [holes.x_m[hole]!, holes.z_m[hole]!];
        const r = Math.max(SMALLEST_MARK, holes.diameter_m[hole]! / 2);
        const at = axes.world(x, -MARK_LIFT, z);
        const [right, up, out] = [axes.world(x + 1e-3, -MARK_LIFT, z), axes.z, axes.world(x, -MARK_LIFT - 1e-3, z)];
        const [u, w] = [right, out].map((point) => point.map((value, i) => (value - at[i]!) * 1e3 * r)) as [Point, Point];
        matrix.set(u[0], up[0] * r, w[0], at[0], u[1], up[1] * r, w[1], at[1], u[2], up[2] * r, w[2], at[2], 0, 0, 0, 1);
        mesh.setMatrixAt(count++, matrix);
      }
      mesh.count = count;
      mesh.visible = count > 0;
      mesh.instanceMatrix.needsUpdate = true;
    });
  }

  private placed(steps: Point): Point {
    return steps.map((value, i) => value * STEP - this.centre[i]!) as Point;
  }

  private solids(kind: PickKind & ("cavity" | "member"), plain: Material, merged: Material): [Boxes, Merged] {
    const { cavities, members } = this.takeoff.data;
    const owners = kind === "cavity" ? cavities.layer : members.layer;
    const solidOf = (id: number): Solid =>
      kind === "cavity" ? { o: cavities.shape[id]!, y: cavities.y[id]! } : members.solid[id]!;
    const boxes = new Boxes(plain);
    const corners = new Corners();
    const [ids, starts]: [number[], number[]] = [[], []];
    owners.forEach((layer, id) => {
      const axes = this.axes[layer]!;
      const solid = solidOf(id);
      if (isPrism(solid) && isRectangle(solid.o) && !axes.curved) {
        const [x0, z0, x1, z1] = extent(solid.o);
        const box: [number, number, number, number, number, number] =
          [x0, solid.y[0] * STEP, z0, x1, solid.y[1] * STEP, z1];
        boxes.add(id, box, axes);
        this.groups[layer]!.boxes.push({ kind, id, box });
        return;
      }
      ids.push(id);
      starts.push(corners.count);
      if (isPrism(solid)) addPrism(corners, solid.o, solid.y[0] * STEP, solid.y[1] * STEP, axes);
      else addMesh(corners, solid, (x, y, z) => axes.world(x, y, z));
    });
    starts.push(corners.count);
    const all = corners.done();
    ids.forEach((id, row) => this.groups[owners[id]!]!.triangles.push(
      { kind, id, corners: all, from: starts[row]!, to: starts[row + 1]! }));
    return [boxes.close(), new Merged("triangles", all, ids, starts, merged, true)];
  }

  private walls(ghost: Material, edge: Material): [Merged, Merged] {
    const { layers, bodies } = this.takeoff.data;
    const [faces, edges] = [new Corners(), new Corners()];
    const [ids, starts, edgeStarts]: [number[], number[], number[]] = [[], [], []];
    for (let wall = 0; wall < this.takeoff.wallCount; wall++) {
      ids.push(wall);
      starts.push(faces.count);
      edgeStarts.push(edges.count);
      for (const layer of this.takeoff.layersOfWall[wall]!) {
        const [body, axes] = [layers.body[layer]!, this.axes[layer]!];
        if (isPrism(body)) {
          const [y0, y1] = [body.y[0] * STEP, body.y[1] * STEP];
          addPrism(faces, body.o, y0, y1, axes);
          addPrismEdges(edges, body.o, y0, y1, axes);
        } else addMesh(faces, body, (x, y, z) => axes.world(x, y, z));
      }
      for (const mesh of bodies[wall]!) {
        addMesh(faces, mesh, (x, y, z) => [x - this.centre[0], y - this.centre[1], z - this.centre[2]]);
      }
    }
    starts.push(faces.count);
    const triangles = faces.done();
    const shapes = new Merged("triangles", triangles, ids, starts, ghost);
    return [shapes, this.meshEdges(edges, edgeStarts, triangles, ids, starts, edge)];
  }

  /** Adds the sharp edges of bodies that are meshes to those of prisms. */
  private meshEdges(
    prisms: Corners, prismStarts: number[], triangles: Float32Array, ids: number[], starts: number[], edge: Material,
  ): Merged {
    const known = prisms.done();
    const edges = new Corners();
    const edgeStarts: number[] = [];
    prismStarts.push(prisms.count);
    ids.forEach((_, wall) => {
      edgeStarts.push(edges.count);
      const [from, to] = [prismStarts[wall]!, prismStarts[wall + 1]!];
      if (to > from) {
        for (let corner = from; corner < to; corner++) edges.push([0, 1, 2].map((i) => known[3 * corner + i]!) as Point);
      } else addSharpEdges(edges, triangles, starts[wall]!, starts[wall + 1]! - starts[wall]!);
    });
    edgeStarts.push(edges.count);
    starts.slice(0, -1).forEach((from, wall) => {
      const group = this.takeoff.layersOfWall[wall]!.length > 0
        ? this.groups[this.takeoff.layersOfWall[wall]![0]!]! : new PickGroup(null);
      if (this.takeoff.layersOfWall[wall]!.length === 0) {
        if (this.bodyPoints[wall]!.length === 0) return;
        group.enclose(this.bodyPoints[wall]!);
        this.groups.push(group);
      }
      group.triangles.push({ kind: "wall", id: wall, corners: triangles, from, to: starts[wall + 1]! });
    });
    return new Merged("edges", edges.done(), ids, edgeStarts, edge);
  }

  private openingLines(material: Material): Merged {
    const { openings, layers } = this.takeoff.data;
    const corners = new Corners();
    const [ids, starts]: [number[], number[]] = [[], []];
    openings.layer.forEach((layer, id) => {
      ids.push(layers.wall[layer]!);
      starts.push(corners.count);
      const depth = layers.depth_m[layer] ?? 0;
      addPrismEdges(corners, openings.shape[id]!, 0, depth, this.axes[layer]!);
      if (isRectangle(openings.shape[id]!)) {
        const [x0, z0, x1, z1] = extent(openings.shape[id]!);
        addEdge(corners, [x0, depth / 2, z0], [x1, depth / 2, z1], this.axes[layer]!);
        addEdge(corners, [x0, depth / 2, z1], [x1, depth / 2, z0], this.axes[layer]!);
      }
    });
    starts.push(corners.count);
    return new Merged("edges", corners.done(), ids, starts, material);
  }

  private makeHoles(materials: Materials): void {
    const { holes } = this.takeoff.data;
    holes.cavity.forEach((_, hole) => this.holeRows[holes.upper[hole] ? 1 : 0]!.push(hole));
    const shapes = [new CircleGeometry(1, 14), new RingGeometry(0.55, 1, 14)];
    [materials.lowerHole, materials.upperHole].forEach((material, upper) => {
      const mesh = new InstancedMesh(shapes[upper]!, material, 0);
      mesh.instanceMatrix = new InstancedBufferAttribute(new Float32Array(16 * this.holeRows[upper]!.length), 16);
      mesh.frustumCulled = false;
      this.holes.push(mesh);
    });
  }
}

function cornersOf(body: Solid, axes: Axes): Point[] {
  const local: Point[] = [];
  if (isPrism(body)) {
    for (const ring of polygons(body.o).flat()) for (const [x, z] of ring) {
      for (const y of body.y) local.push([x, y * STEP, z]);
    }
    const [x0, z0, x1, z1] = extent(body.o);
    if (axes.curved) for (let i = 0; i <= 16; i++) local.push([x0 + (x1 - x0) * i / 16, body.y[0] * STEP, i % 2 ? z0 : z1]);
  } else {
    for (let i = 0; i + 2 < body.v.length; i += 3) {
      local.push(body.v.slice(i, i + 3).map((value) => value * STEP) as Point);
    }
  }
  return (local.length > 0 ? local : [[0, 0, 0] as Point]).map((point) => axes.world(...point));
}

function middle(points: Point[]): Point {
  if (points.length === 0) return [0, 0, 0];
  return [0, 1, 2].map((i) => {
    let [low, high] = [Infinity, -Infinity];
    for (const point of points) { low = Math.min(low, point[i]!); high = Math.max(high, point[i]!); }
    return (low + high) / 2;
  }) as Point;
}
