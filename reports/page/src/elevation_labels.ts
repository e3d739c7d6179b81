// Numbers and dimensions of the elevation, kept apart from each other.

import { type Shape, type Takeoff, polygons, word } from "./data";
import { makeSvg } from "./dom";
import { across, down, text, wide } from "./elevation_signs";
import type { Units } from "./units";

interface Box { x0: number; y0: number; x1: number; y1: number }
interface Row { z: number; height: number; count: number }

/** Places along a line as near to those wished as can be, in order, at least `apart` from each other. */
export function spread(wished: number[], apart: number): number[] {
  const groups: { sum: number; count: number; first: number }[] = [];
  wished.forEach((place, index) => {
    let group = { sum: place - index * apart, count: 1, first: index };
    while (groups.length > 0) {
      const last = groups.at(-1)!;
      if (last.sum / last.count < group.sum / group.count) break;
      group = { sum: last.sum + group.sum, count: last.count + group.count, first: last.first };
      groups.pop();
    }
    groups.push(group);
  });
  return groups.flatMap(({ sum, count, first }) =>
    Array.from({ length: count }, (_, i) => sum / count + (first + i) * apart));
}

/** Numbers of the cavities of a layer: inside where they fit, else in a row above or below the wall with a leader. */
export class Numbers {
  readonly inside: SVGElement[] = [];
  readonly outside: SVGElement[] = [];
  /** mm of the drawing that the rows take above and below the wall, and how far they reach to the left and right. */
  above = 0;
  below = 0;
  left = Infinity;
  right = -Infinity;

  constructor(takeoff: Takeoff, layer: number, frame: Box, unit: number) {
    const size = 2.3 * unit;
    const { cavities } = takeoff.data;
    const taken = holeBoxes(takeoff, layer, unit);
    const rows: { number: string; x: number; y: number; up: boolean; cavity: number }[] = [];
    for (const cavity of takeoff.cavitiesOfLayer[layer]!) {
      if (word(cavities.kind, cavity) === "opening_gap") continue;
      const number = word(cavities.number, cavity).replace(/^c?0*|(?<=^[a-z])0+/g, "");
      const spots = spotsIn(cavities.shape[cavity]!);
      const width = (wide(number) + 0.5) * size;
      const place = freePlace(spots, width, 1.15 * size, taken);
      if (place === null) {
        const widest = spots.reduce((best, spot) => spot.room > best.room ? spot : best, spots[0]!);
        rows.push({ number, x: widest.x, y: widest.y, up: widest.y < (frame.y0 + frame.y1) / 2, cavity });
      } else {
        this.inside.push(label(place.x, place.y, number, size, cavity));
        taken.push(around(place, width, 1.2 * size));
      }
    }
    for (const up of [true, false]) this.outsideRow(rows.filter((row) => row.up === up), up, frame, unit, size);
  }

  private outsideRow(
    rows: { number: string; x: number; y: number; cavity: number }[], up: boolean, frame: Box, unit: number, size: number,
  ): void {
    if (rows.length === 0) return;
    rows.sort((a, b) => a.x - b.x);
    const apart = 1.35 * size * Math.max(1, ...rows.map((row) => wide(row.number)));
    const slots = spread(rows.map((row) => row.x), apart);
    const edge = up ? frame.y0 : frame.y1;
    const way = up ? -1 : 1;
    const level = edge + way * 6 * unit;
    rows.forEach((row, i) => {
      const slot = slots[i]!;
      this.outside.push(makeSvg("path", {
        d: `M${row.x} ${row.y}V${edge + way * unit}L${slot} ${edge + way * 3.5 * unit}V${level - way * 0.7 * size}`,
        class: "leader", "stroke-width": 0.13 * unit,
      }), makeSvg("circle", { cx: row.x, cy: row.y, r: 0.4 * unit, class: "leader-dot" }));
      this.outside.push(label(slot, level, row.number, size, row.cavity));
    });
    this.left = Math.min(this.left, slots[0]! - apart);
    this.right = Math.max(this.right, slots.at(-1)! + apart);
    if (up) this.above = 8 * unit;
    else this.below = 8 * unit;
  }
}

function label(x: number, y: number, number: string, size: number, cavity: number): SVGElement {
  const width = (wide(number) + 0.4) * size;
  const group = makeSvg("g", { class: "number", "data-cavity": cavity });
  group.append(makeSvg("rect", {
    x: x - width / 2, y: y - 0.6 * size, width, height: 1.2 * size, rx: 0.25 * size, class: "number-ground",
  }), text(x, y, number, size, "number-text"));
  return group;
}

/** A place inside an outline with the room to its left and right together, mm of the drawing. */
interface Spot { x: number; y: number; room: number; rings: [number, number][][] }

/** Middles of the widest stretches inside an outline at several levels, the middle level first. */
function spotsIn(shape: Shape): Spot[] {
  const spots: Spot[] = [];
  for (const polygon of polygons(shape)) {
    const rings = polygon.map((ring) => ring.map(([x, z]): [number, number] => [across(x), down(z)]));
    const ys = rings[0]!.map((point) => point[1]);
    const [low, high] = [Math.min(...ys), Math.max(...ys)];
    for (const share of [0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9, 0.03, 0.97]) {
      const y = low + share * (high - low);
      for (const [from, to] of stretches(rings, y)) spots.push({ x: (from + to) / 2, y, room: to - from, rings });
    }
  }
  return spots.length > 0 ? spots : [{ x: 0, y: 0, room: 0, rings: [] }];
}

/** Parts of a level line inside rings (even-odd). */
function stretches(rings: [number, number][][], y: number): [number, number][] {
  const places: number[] = [];
  for (const ring of rings) ring.forEach(([x, v], i) => {
    const [u, w] = ring[(i + 1) % ring.length]!;
    if ((v <= y) !== (w <= y)) places.push(x + (u - x) * (y - v) / (w - v));
  });
  places.sort((a, b) => a - b);
  const parts: [number, number][] = [];
  for (let i = 0; i + 1 < places.length; i += 2) parts.push([places[i]!, places[i + 1]!]);
  return parts;
}

function freePlace(spots: Spot[], width: number, height: number, taken: Box[]): Spot | null {
  for (const spot of spots) {
    if (spot.room < width) continue;
    const own = around(spot, width, height);
    const inside = [own.y0, own.y1].every((y) =>
      stretches(spot.rings, y).some(([from, to]) => from <= own.x0 && to >= own.x1));
    if (inside && !taken.some((other) => meet(own, other))) return spot;
  }
  return null;
}

const around = ({ x, y }: { x: number; y: number }, width: number, height: number): Box =>
  ({ x0: x - width / 2, x1: x + width / 2, y0: y - height / 2, y1: y + height / 2 });

const meet = (a: Box, b: Box): boolean => a.x0 < b.x1 && b.x0 < a.x1 && a.y0 < b.y1 && b.y0 < a.y1;

/** mm; as large as reads well, but never so large that neighbours meet. */
export function holeRadius(takeoff: Takeoff, hole: number, unit: number): number {
  const { holes, cavities } = takeoff.data;
  let nearest = Infinity;
  for (const cavity of takeoff.cavitiesOfLayer[cavities.layer[holes.cavity[hole]!]!]!) {
    for (const other of takeoff.holesOfCavity[cavity]!) {
      if (other === hole) continue;
      const apart = Math.hypot(holes.x_m[other]! - holes.x_m[hole]!, holes.z_m[other]! - holes.z_m[hole]!);
      if (apart > 1e-3) nearest = Math.min(nearest, apart * 1000);
    }
  }
  const own = holes.diameter_m[hole]! * 500;
  return Math.min(Math.max(own, 1.5 * unit), Math.max(own / 2, nearest / 2.9));
}

function holeBoxes(takeoff: Takeoff, layer: number, unit: number): Box[] {
  const { holes } = takeoff.data;
  return takeoff.cavitiesOfLayer[layer]!.flatMap((cavity) => takeoff.holesOfCavity[cavity]!).map((hole) => {
    const [x, y] = [across(holes.x_m[hole]!), down(holes.z_m[hole]!)];
    const out = 1.5 * holeRadius(takeoff, hole, unit);
    return { x0: x - out, x1: x + out, y0: y - out, y1: y + out };
  });
}

/** Rows of holes at one height: how high above the floor and how many. */
function holeRows(takeoff: Takeoff, layer: number): Row[] {
  const { holes } = takeoff.data;
  const rows = new Map<number, Row>();
  for (const hole of takeoff.cavitiesOfLayer[layer]!.flatMap((cavity) => takeoff.holesOfCavity[cavity]!)) {
    const key = Math.round(holes.z_m[hole]! * 200);
    const row = rows.get(key) ?? { z: holes.z_m[hole]!, height: holes.height_above_floor_m[hole]!, count: 0 };
    rows.set(key, { ...row, count: row.count + 1 });
  }
  return [...rows.values()].sort((a, b) => b.z - a.z);
}

/** Lines along the rows of holes, each with its height above the floor to the right of the wall. */
export function rowLabels(takeoff: Takeoff, layer: number, frame: Box, unit: number, units: Units): SVGElement[] {
  const rows = holeRows(takeoff, layer);
  const size = 2.4 * unit;
  const levels = spread(rows.map((row) => down(row.z)), 1.5 * size);
  return rows.flatMap((row, i) => {
    const [y, level] = [down(row.z), levels[i]!];
    return [
      makeSvg("path", {
        d: `M${frame.x0 - unit} ${y}H${frame.x1 + unit}L${frame.x1 + 4 * unit} ${level}`,
        class: "row-line", "stroke-width": 0.15 * unit, "stroke-dasharray": `${2 * unit} ${unit}`,
      }),
      text(frame.x1 + 5 * unit, level, `${units.text(row.height, "length")} (${row.count})`, size, "dimension-text", "start"),
    ];
  });
}

/** A chain of dimensions from left to right at one level, and the height at the left. */
export function dimensions(places: number[], level: number, frame: Box, unit: number, units: Units): SVGElement[] {
  const size = 2.4 * unit;
  const shapes: SVGElement[] = [];
  const distinct = [...new Set(places.map((place) => Math.round(place * 1000)))].sort((a, b) => a - b);
  const from = distinct.filter((place, i) => i === 0 || place - distinct[i - 1]! > 4);
  const total = level + (from.length > 2 ? 5.5 * unit : 0);
  if (from.length > 2) {
    chain(shapes, from, level, unit);
    let end = -Infinity;
    let low = false;
    for (let i = 0; i + 1 < from.length; i++) {
      const words = units.text((from[i + 1]! - from[i]!) / 1000, "length");
      const middle = (from[i]! + from[i + 1]!) / 2;
      const half = wide(words) * size / 2;
      const fits = 2 * half < from[i + 1]! - from[i]! && middle - half > end;
      if (!fits) { low = !low; if (middle - half < end && !low) continue; }
      if (fits) { shapes.push(text(middle, level - 1.6 * unit, words, size, "dimension-text")); end = middle + half; }
    }
  }
  const [left, right] = [from[0]!, from.at(-1)!];
  chain(shapes, [left, right], total, unit);
  shapes.push(text((left + right) / 2, total + 2.2 * unit, units.text((right - left) / 1000, "length"), size, "dimension-text"));
  const x = frame.x0 - 5 * unit;
  shapes.push(makeSvg("path", {
    d: `M${x} ${frame.y0}V${frame.y1}` + [frame.y0, frame.y1].map((y) =>
      `M${x - unit} ${y}H${frame.x0 - unit}M${x - 0.8 * unit} ${y + 0.8 * unit}L${x + 0.8 * unit} ${y - 0.8 * unit}`).join(""),
    class: "dimension", "stroke-width": 0.2 * unit,
  }));
  const height = text(0, 0, units.text((frame.y1 - frame.y0) / 1000, "length"), size, "dimension-text");
  height.setAttribute("transform", `translate(${x - 2.2 * unit} ${(frame.y0 + frame.y1) / 2}) rotate(-90)`);
  shapes.push(height);
  return shapes;
}

function chain(shapes: SVGElement[], places: number[], level: number, unit: number): void {
  shapes.push(makeSvg("path", {
    d: `M${places[0]} ${level}H${places.at(-1)}` + places.map((place) =>
      `M${place} ${level - unit}V${level + unit}M${place - 0.8 * unit} ${level + 0.8 * unit}L${place + 0.8 * unit} ${level - 0.8 * unit}`).join(""),
    class: "dimension", "stroke-width": 0.2 * unit,
  }));
}
