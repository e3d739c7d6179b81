// Numbers and dimensions of the elevation, kept apart from each other.

import { type Takeoff, extent, polygons, word } from "./data";
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
  /** mm of the drawing that the rows take above and below the wall. */
  above = 0;
  below = 0;

  constructor(takeoff: Takeoff, layer: number, frame: Box, unit: number) {
    const size = 2.3 * unit;
    const taken = holeBoxes(takeoff, layer, unit);
    const rows: { number: string; x: number; y: number; up: boolean; cavity: number }[] = [];
    for (const cavity of takeoff.cavitiesOfLayer[layer]!) {
      const number = word(takeoff.data.cavities.number, cavity).replace(/^c?0*|(?<=^[a-z])0+/g, "");
      const box = largestPart(takeoff, cavity);
      const place = freePlace(box, (wide(number) + 0.5) * size, 1.15 * size, taken);
      if (place === null) {
        const [x, y] = [(box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2];
        rows.push({ number, x, y, up: y < (frame.y0 + frame.y1) / 2, cavity });
      } else {
        this.inside.push(label(place[0], place[1], number, size, cavity));
        taken.push({ x0: place[0] - size, x1: place[0] + size, y0: place[1] - size * 0.6, y1: place[1] + size * 0.6 });
      }
    }
    for (const up of [true, false]) {
      const own = rows.filter((row) => row.up === up).sort((a, b) => a.x - b.x);
      if (own.length === 0) continue;
      const apart = 1.35 * size * Math.max(1, Math.max(...own.map((row) => wide(row.number))));
      const slots = spread(own.map((row) => row.x), apart);
      const edge = up ? frame.y0 : frame.y1;
      const way = up ? -1 : 1;
      own.forEach((row, i) => {
        const [slot, level] = [slots[i]!, edge + way * 6 * unit];
        this.outside.push(makeSvg("path", {
          d: `M${row.x} ${row.y}V${edge + way * unit}L${slot} ${edge + way * 3.5 * unit}V${level - way * 0.7 * size}`,
          class: "leader", "stroke-width": 0.13 * unit,
        }), makeSvg("circle", { cx: row.x, cy: row.y, r: 0.4 * unit, class: "leader-dot" }));
        this.outside.push(label(slot, level, row.number, size, row.cavity));
      });
      if (up) this.above = 8 * unit;
      else this.below = 8 * unit;
    }
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

/** Box of a cavity's largest polygon, which for an odd outline is only where its middle lies. */
function largestPart(takeoff: Takeoff, cavity: number): Box {
  const shape = takeoff.data.cavities.shape[cavity]!;
  const boxes = polygons(shape).map((rings) => {
    const xs = rings[0]!.map((point) => across(point[0]));
    const ys = rings[0]!.map((point) => down(point[1]));
    return { x0: Math.min(...xs), x1: Math.max(...xs), y0: Math.min(...ys), y1: Math.max(...ys) };
  });
  const area = (box: Box): number => (box.x1 - box.x0) * (box.y1 - box.y0);
  const best = boxes.sort((a, b) => area(b) - area(a))[0];
  if (best !== undefined) return best;
  const [x0, z0, x1, z1] = extent(shape);
  return { x0: across(x0), x1: across(x1), y0: down(z1), y1: down(z0) };
}

function freePlace(box: Box, width: number, height: number, taken: Box[]): [number, number] | null {
  if (box.x1 - box.x0 < width || box.y1 - box.y0 < height) return null;
  const x = (box.x0 + box.x1) / 2;
  for (const share of [0.5, 0.35, 0.65, 0.2, 0.8]) {
    const y = box.y0 + height / 2 + share * (box.y1 - box.y0 - height);
    const own = { x0: x - width / 2, x1: x + width / 2, y0: y - height / 2, y1: y + height / 2 };
    if (!taken.some((other) => meet(own, other))) return [x, y];
  }
  return null;
}

const meet = (a: Box, b: Box): boolean => a.x0 < b.x1 && b.x0 < a.x1 && a.y0 < b.y1 && b.y0 < a.y1;

export function holeRadius(takeoff: Takeoff, hole: number, unit: number): number {
  return Math.max(takeoff.data.holes.diameter_m[hole]! * 500, 1.5 * unit);
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
