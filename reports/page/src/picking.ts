// Which piece a ray meets first: layer by layer, boxes in wall axes, other solids by their triangles.

import { Ray, Vector3, type Plane } from "three";
import type { Axes, Point } from "./axes";

export type PickKind = "cavity" | "member" | "wall";
export interface Hit { kind: PickKind; id: number; distance: number }

interface BoxItem { kind: PickKind; id: number; box: [number, number, number, number, number, number] }
interface TriangleItem { kind: PickKind; id: number; corners: Float32Array; from: number; to: number }

/** What stands in one stud layer, or one wall's body. */
export class PickGroup {
  readonly boxes: BoxItem[] = [];
  readonly triangles: TriangleItem[] = [];
  private readonly centre = new Vector3();
  private radius = 0;

  constructor(private readonly axes: Axes | null) {}

  /** Tells where the group lies: points round it. */
  enclose(points: Point[]): void {
    const vectors = points.map((point) => new Vector3(...point));
    for (const vector of vectors) this.centre.addScaledVector(vector, 1 / vectors.length);
    this.radius = Math.max(...vectors.map((vector) => vector.distanceTo(this.centre))) + 0.3;
  }

  nearest(ray: Ray, plane: Plane | null, isShown: (kind: PickKind, id: number) => boolean): Hit | null {
    if (ray.distanceSqToPoint(this.centre) > this.radius ** 2) return null;
    let best: Hit | null = null;
    const keep = (kind: PickKind, id: number, distance: number | null): void => {
      if (distance !== null && (best === null || distance < best.distance)) best = { kind, id, distance };
    };
    if (this.axes !== null && this.boxes.length > 0) {
      const origin = this.axes.local(ray.origin.toArray() as Point, true);
      const direction = this.axes.local(ray.direction.toArray() as Point, false);
      const limits = kept(ray, plane);
      for (const item of this.boxes) {
        if (isShown(item.kind, item.id)) keep(item.kind, item.id, throughBox(origin, direction, item.box, limits));
      }
    }
    for (const item of this.triangles) {
      if (isShown(item.kind, item.id)) keep(item.kind, item.id, throughTriangles(ray, item, plane));
    }
    return best;
  }
}

/** Part of the ray on the side of the section plane that is drawn: from, to. */
function kept(ray: Ray, plane: Plane | null): [number, number] {
  if (plane === null) return [0, Infinity];
  const slope = plane.normal.dot(ray.direction);
  const start = plane.distanceToPoint(ray.origin);
  if (Math.abs(slope) < 1e-12) return start >= 0 ? [0, Infinity] : [0, -1];
  const crossing = -start / slope;
  return slope > 0 ? [Math.max(0, crossing), Infinity] : [0, crossing];
}

function throughBox(origin: Point, direction: Point, box: BoxItem["box"], limits: [number, number]): number | null {
  let [from, to] = limits;
  for (let axis = 0; axis < 3; axis++) {
    const [low, high] = [box[axis]!, box[axis + 3]!];
    const [start, slope] = [origin[axis]!, direction[axis]!];
    if (Math.abs(slope) < 1e-12) {
      if (start < low || start > high) return null;
      continue;
    }
    const [a, b] = [(low - start) / slope, (high - start) / slope];
    from = Math.max(from, Math.min(a, b));
    to = Math.min(to, Math.max(a, b));
    if (from > to) return null;
  }
  return from;
}

const corners = [new Vector3(), new Vector3(), new Vector3()] as const;
const met = new Vector3();

function throughTriangles(ray: Ray, item: TriangleItem, plane: Plane | null): number | null {
  let best: number | null = null;
  for (let at = item.from; at < item.to; at += 3) {
    corners.forEach((corner, i) => corner.fromArray(item.corners, 3 * (at + i)));
    if (ray.intersectTriangle(...corners, false, met) === null) continue;
    if (plane !== null && plane.distanceToPoint(met) < 0) continue;
    const distance = ray.origin.distanceTo(met);
    if (best === null || distance < best) best = distance;
  }
  return best;
}
