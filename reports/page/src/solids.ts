// Solids of the takeoff as triangles and edges in the world.

import { ShapeUtils, Vector2 } from "three";
import { Axes, type Point } from "./axes";
import { type MeshCode, type Shape, STEP, polygons } from "./data";

/** Growing list of corners, three numbers each: three corners are a triangle, or two an edge. */
export class Corners {
  private values = new Float32Array(3 * 3072);
  count = 0;

  push(point: Point): void {
    const at = 3 * this.count;
    if (at + 3 > this.values.length) {
      const larger = new Float32Array(2 * this.values.length);
      larger.set(this.values);
      this.values = larger;
    }
    this.values.set(point, at);
    this.count += 1;
  }

  done(): Float32Array { return this.values.slice(0, 3 * this.count); }
}

/** Faces of an outline between two depths. */
export function addPrism(to: Corners, shape: Shape, y0: number, y1: number, axes: Axes): void {
  for (const rings of polygons(shape)) {
    const points = rings.map((ring) => ring.map(([x, z]) => new Vector2(x, z)));
    if (points.length === 0 || points[0]!.length < 3) continue;
    const flat = points.flat();
    const faces = ShapeUtils.triangulateShape(points[0]!, points.slice(1));
    for (const face of faces) {
      for (const y of [y0, y1]) {
        const [a, b, c] = face.map((i): Point => [flat[i]!.x, y, flat[i]!.y]) as [Point, Point, Point];
        addTriangle(to, a, b, c, axes);
      }
    }
    for (const ring of rings) {
      ring.forEach(([x, z], i) => {
        const [u, w] = ring[(i + 1) % ring.length]!;
        addTriangle(to, [x, y0, z], [u, y0, w], [u, y1, w], axes);
        addTriangle(to, [x, y0, z], [u, y1, w], [x, y1, z], axes);
      });
    }
  }
}

export function addMesh(to: Corners, mesh: MeshCode, place: (x: number, y: number, z: number) => Point): void {
  const corner = (number: number): Point =>
    place(mesh.v[3 * number]! * STEP, mesh.v[3 * number + 1]! * STEP, mesh.v[3 * number + 2]! * STEP);
  for (const number of mesh.f) to.push(corner(number));
}

/** A triangle in wall axes; in a curved wall halved until it follows the arc. */
function addTriangle(to: Corners, a: Point, b: Point, c: Point, axes: Axes, depth = 0): void {
  const corners = [a, b, c];
  if (axes.curved && depth < 8) {
    const lengths = corners.map((point, i) => Math.abs(point[0] - corners[(i + 1) % 3]![0]));
    const longest = lengths.indexOf(Math.max(...lengths));
    if (lengths[longest]! > axes.chord) {
      const [p, q, r] = [0, 1, 2].map((i) => corners[(longest + i) % 3]!) as [Point, Point, Point];
      const middle = p.map((value, i) => (value + q[i]!) / 2) as Point;
      addTriangle(to, p, middle, r, axes, depth + 1);
      addTriangle(to, middle, q, r, axes, depth + 1);
      return;
    }
  }
  for (const [x, y, z] of corners) to.push(axes.world(x, y, z));
}

/** Edges of an outline at two depths and across. */
export function addPrismEdges(to: Corners, shape: Shape, y0: number, y1: number, axes: Axes): void {
  for (const rings of polygons(shape)) for (const ring of rings) {
    ring.forEach(([x, z], i) => {
      const [u, w] = ring[(i + 1) % ring.length]!;
      for (const y of y0 === y1 ? [y0] : [y0, y1]) addEdge(to, [x, y, z], [u, y, w], axes);
      if (y0 !== y1) addEdge(to, [x, y0, z], [x, y1, z], axes);
    });
  }
}

export function addEdge(to: Corners, from: Point, until: Point, axes: Axes): void {
  const parts = Math.min(64, Math.max(1, Math.ceil(Math.abs(until[0] - from[0]) / axes.chord)));
  const at = (share: number): Point =>
    axes.world(...(from.map((value, i) => value + (until[i]! - value) * share) as Point));
  for (let part = 0; part < parts; part++) {
    to.push(at(part / parts));
    to.push(at((part + 1) / parts));
  }
}

/** Edges of triangles where faces meet at an angle, or where only one face ends. */
export function addSharpEdges(to: Corners, triangles: Float32Array, first: number, count: number): void {
  const edges = new Map<string, { ends: [Point, Point]; normal: Point; plain: boolean }>();
  const key = (p: Point): string => p.map((value) => Math.round(value * 2000)).join();
  for (let corner = first; corner < first + count; corner += 3) {
    const points = [0, 1, 2].map((i) =>
      Array.from(triangles.subarray(3 * (corner + i), 3 * (corner + i) + 3)) as Point) as [Point, Point, Point];
    const normal = normalOf(...points);
    if (normal === null) continue;
    points.forEach((p, i) => {
      const q = points[(i + 1) % 3]!;
      const [a, b] = [key(p), key(q)];
      const name = a < b ? `${a};${b}` : `${b};${a}`;
      const known = edges.get(name);
      if (known === undefined) edges.set(name, { ends: [p, q], normal, plain: false });
      else known.plain = Math.abs(known.normal.reduce((sum, value, j) => sum + value * normal[j]!, 0)) > 0.97;
    });
  }
  for (const edge of edges.values()) {
    if (!edge.plain) edge.ends.forEach((end) => to.push(end));
  }
}

function normalOf(a: Point, b: Point, c: Point): Point | null {
  const [u, v] = [b, c].map((point) => point.map((value, i) => value - a[i]!) as Point) as [Point, Point];
  const normal: Point = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
  const length = Math.hypot(...normal);
  return length < 1e-12 ? null : normal.map((value) => value / length) as Point;
}
