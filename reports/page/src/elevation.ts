// The elevation of one stud layer as somebody standing on the fill side sees it: vector, with what the crew measures.

import {
  STEP, type Shape, type Solid, type Takeoff, extent, isPrism, methodWords, plainWords, polygons, word,
} from "./data";
import { make, makeSvg } from "./dom";
import { Numbers, dimensions, holeRadius, rowLabels } from "./elevation_labels";
import { across, down, hatchOf, hatches, holeSign, path, text, wide } from "./elevation_signs";
import type { State } from "./state";

/** Heights that fit, as a part of the lengths that do. */
const ROOM_UP = 0.5;

interface Frame { x0: number; y0: number; x1: number; y1: number }

/** The drawing of a stud layer, and the box that shows all of it: x, y, width, height. A wall that is longer than
 * `room` units (of about a millimetre on paper) is scaled down to it. */
export function drawElevation(state: State, layer: number, room: number): { svg: SVGElement; box: number[] } {
  const { takeoff, units } = state;
  const frame = frameOf(takeoff.data.layers.body[layer]!);
  const unit = Math.max((frame.x1 - frame.x0) / room, (frame.y1 - frame.y0) / (room * ROOM_UP), 4);
  const numbers = new Numbers(takeoff, layer, frame, unit);
  const level = frame.y1 + numbers.below + 5 * unit;
  const openings = takeoff.openingsOfLayer[layer]!.map((opening) => extent(takeoff.data.openings.shape[opening]!));
  const stops = [frame.x0 / 1000, frame.x1 / 1000, ...openings.flatMap(([x0, , x1]) => [x0, x1])];
  const svg = makeSvg("svg", { class: "elevation", role: "img", "aria-label": described(takeoff, layer) });
  const parts: [string, SVGElement[]][] = [
    ["face", [face(takeoff, layer)]],
    ["cavities", takeoff.cavitiesOfLayer[layer]!.map((cavity) => cavityShape(state, cavity, unit))],
    ["members", takeoff.membersOfLayer[layer]!.flatMap((member) => memberShape(takeoff, member, unit))],
    ["hand-parts", handParts(takeoff, layer, unit)],
    ["openings", takeoff.openingsOfLayer[layer]!.flatMap((opening) => openingSign(takeoff, opening, unit))],
    ["rows", rowLabels(takeoff, layer, frame, unit, units)],
    ["holes", holeSigns(takeoff, layer, unit)],
    ["numbers", [...numbers.outside, ...numbers.inside]],
    ["dimensions", dimensions(stops, level, frame, unit, units)],
  ];
  svg.append(hatches(unit));
  for (const [name, shapes] of parts) {
    const group = makeSvg("g", { class: name });
    group.append(...shapes);
    svg.append(group);
  }
  const right = Math.max(frame.x1 + 29 * unit, numbers.right);
  const bottom = level + (openings.length > 0 ? 12 : 7) * unit;
  const top = frame.y0 - numbers.above - 3 * unit;
  const x = Math.min(frame.x0 - 11 * unit, numbers.left);
  return { svg, box: [x, top, right - x, bottom - top] };
}

function frameOf(body: Solid): Frame {
  if (isPrism(body)) {
    const [x0, z0, x1, z1] = extent(body.o);
    return { x0: across(x0), x1: across(x1), y0: down(z1), y1: down(z0) };
  }
  const frame = { x0: Infinity, x1: -Infinity, y0: Infinity, y1: -Infinity };
  for (let i = 0; i + 2 < body.v.length; i += 3) {
    const [x, y] = [across(body.v[i]! * STEP), down(body.v[i + 2]! * STEP)];
    frame.x0 = Math.min(frame.x0, x); frame.x1 = Math.max(frame.x1, x);
    frame.y0 = Math.min(frame.y0, y); frame.y1 = Math.max(frame.y1, y);
  }
  return frame;
}

function described(takeoff: Takeoff, layer: number): string {
  const cavities = takeoff.cavitiesOfLayer[layer]!;
  const holes = cavities.reduce((sum, cavity) => sum + takeoff.holesOfCavity[cavity]!.length, 0);
  return `Elevation of ${takeoff.wallName(takeoff.data.layers.wall[layer]!)} from the fill side: `
    + `${cavities.length} cavities, ${takeoff.openingsOfLayer[layer]!.length} openings, ${holes} holes. `
    + "The tables hold the same.";
}

function silhouette(solid: Solid): string {
  if (isPrism(solid)) return path(solid.o);
  const parts: string[] = [];
  const corner = (number: number): string =>
    `${across(solid.v[3 * number]! * STEP)} ${down(solid.v[3 * number + 2]! * STEP)}`;
  for (let i = 0; i + 2 < solid.f.length; i += 3) {
    parts.push(`M${corner(solid.f[i]!)}L${corner(solid.f[i + 1]!)}L${corner(solid.f[i + 2]!)}Z`);
  }
  return parts.join("");
}

function face(takeoff: Takeoff, layer: number): SVGElement {
  return makeSvg("path", { d: silhouette(takeoff.data.layers.body[layer]!), class: "wall-face", "fill-rule": "nonzero" });
}

function cavityShape(state: State, cavity: number, unit: number): SVGElement {
  const { cavities } = state.takeoff.data;
  const method = word(cavities.method, cavity);
  const hidden = cavities.open_area_m2[cavity] === 0;
  return makeSvg("path", {
    d: path(cavities.shape[cavity]!), fill: hatchOf(method), "data-cavity": cavity, "stroke-width": 0.25 * unit,
    class: hidden ? "cavity behind" : "cavity", "fill-rule": "evenodd",
  }, makeSvg("title", {}, cavityWords(state, cavity)));
}

/** Number, kind, method and sizes of a cavity in one line. */
export function cavityWords(state: State, cavity: number): string {
  const { takeoff, units } = state;
  const { cavities } = takeoff.data;
  const width = cavities.x_max_m[cavity]! - cavities.x_min_m[cavity]!;
  const height = cavities.z_max_m[cavity]! - cavities.z_min_m[cavity]!;
  const holes = takeoff.holesOfCavity[cavity]!.length;
  const size = [width, height, cavities.depth_m[cavity]!].map((value) => units.text(value, "length")).join(" x ");
  return `${word(cavities.number, cavity)}, ${plainWords(word(cavities.kind, cavity))}, `
    + `${methodWords(word(cavities.method, cavity))}: ${size}, ${units.text(cavities.volume_m3[cavity], "volume")}`
    + (holes > 0 ? `, ${holes} ${holes === 1 ? "hole" : "holes"}` : "");
}

function memberShape(takeoff: Takeoff, member: number, unit: number): SVGElement[] {
  const { members, layers } = takeoff.data;
  const solid = members.solid[member]!;
  const role = word(members.role, member);
  const depth = layers.depth_m[members.layer[member]!] ?? 0;
  const nearest = isPrism(solid) ? solid.y[0] * STEP : Math.min(...depthsOf(solid.v));
  const behind = nearest > 0.25 * depth;
  const section = word(members.section, member);
  const name = [plainWords(role), section, word(members.element_name, member)].filter(Boolean).join(", ");
  return [makeSvg("path", {
    d: silhouette(solid), "stroke-width": isPrism(solid) ? 0.18 * unit : 0,
    class: `member${role === "obstruction" ? " obstruction" : ""}${behind ? " behind" : ""}`,
    "stroke-dasharray": behind ? `${1.4 * unit} ${0.9 * unit}` : "none",
  }, makeSvg("title", {}, name))];
}

function depthsOf(vertices: number[]): number[] {
  const depths: number[] = [];
  for (let i = 1; i < vertices.length; i += 3) depths.push(vertices[i]! * STEP);
  return depths;
}

function handParts(takeoff: Takeoff, layer: number, unit: number): SVGElement[] {
  const { hand_fills: parts } = takeoff.data;
  return takeoff.cavitiesOfLayer[layer]!.flatMap((cavity) => takeoff.partsOfCavity[cavity]!).map((part) =>
    makeSvg("path", {
      d: path(parts.shape[part]!), fill: hatchOf(word(parts.method, part)), class: "hand-part", "stroke-width": 0.2 * unit,
    }, makeSvg("title", {}, `${methodWords(word(parts.method, part))}: ${word(parts.reason, part)}`)));
}

function openingSign(takeoff: Takeoff, opening: number, unit: number): SVGElement[] {
  const { openings } = takeoff.data;
  const shape: Shape = openings.shape[opening]!;
  const recess = openings.recess[opening] === true;
  const kind = word(openings.filling_class, opening).replace(/^Ifc/, "").replace(/StandardCase$/, "").toLowerCase();
  const words = recess ? "recess" : kind || "opening";
  const shapes = [makeSvg("path", {
    d: path(shape), class: recess ? "recess" : "opening", "stroke-width": 0.35 * unit,
    "stroke-dasharray": recess ? `${1.4 * unit} ${0.9 * unit}` : "none",
  }, makeSvg("title", {}, [words, word(openings.filling_name, opening)].filter(Boolean).join(" ")))];
  const [x0, z0, x1, z1] = extent(shape);
  if (!recess && polygons(shape).length === 1 && polygons(shape)[0]![0]!.length === 4) {
    shapes.push(makeSvg("path", {
      d: `M${across(x0)} ${down(z0)}L${across(x1)} ${down(z1)}M${across(x0)} ${down(z1)}L${across(x1)} ${down(z0)}`,
      class: "opening-cross", "stroke-width": 0.15 * unit,
    }));
  }
  const size = 2.4 * unit;
  if (!recess && wide(words) * size < across(x1 - x0) && 2 * size < across(z1 - z0)) {
    const [x, y] = [across((x0 + x1) / 2), down((z0 + z1) / 2)];
    const width = (wide(words) + 1) * size;
    shapes.push(makeSvg("rect", { x: x - width / 2, y: y - 0.8 * size, width, height: 1.6 * size, class: "opening-ground" }));
    shapes.push(text(x, y, words, size, "opening-text"));
  }
  return shapes;
}

function holeSigns(takeoff: Takeoff, layer: number, unit: number): SVGElement[] {
  const { holes } = takeoff.data;
  return takeoff.cavitiesOfLayer[layer]!.flatMap((cavity) => takeoff.holesOfCavity[cavity]!).map((hole) => holeSign(
    holes.x_m[hole]!, holes.z_m[hole]!, holeRadius(takeoff, hole, unit), holes.hole[hole]!, holes.upper[hole] === 1,
  ));
}

/** Zooming and moving the box that an elevation shows. */
export class Zoom {
  private box: number[] = [0, 0, 1, 1];
  private whole: number[] = [0, 0, 1, 1];
  private svg: SVGElement | null = null;

  constructor(private readonly field: HTMLElement) {
    field.addEventListener("wheel", (event) => {
      if (!event.ctrlKey && !field.contains(document.activeElement)) return;
      event.preventDefault();
      this.by(event.deltaY > 0 ? 1.2 : 1 / 1.2, event.clientX, event.clientY);
    }, { passive: false });
    let from: [number, number] | null = null;
    field.addEventListener("pointerdown", (event) => { from = [event.clientX, event.clientY]; });
    window.addEventListener("pointerup", () => { from = null; });
    field.addEventListener("pointermove", (event) => {
      if (from === null || event.pointerType === "touch" && this.isWhole) return;
      const step = this.box[2]! / Math.max(1, field.clientWidth);
      this.move((from[0] - event.clientX) * step, (from[1] - event.clientY) * step);
      from = [event.clientX, event.clientY];
    });
  }

  get isWhole(): boolean { return this.box.every((value, i) => value === this.whole[i]); }

  show(svg: SVGElement, box: number[], keep: boolean): void {
    this.svg = svg;
    this.whole = box;
    if (!keep) this.box = [...box];
    this.apply();
  }

  fit(): void { this.box = [...this.whole]; this.apply(); }

  by(factor: number, clientX?: number, clientY?: number): void {
    if (this.svg === null) return;
    const area = this.svg.getBoundingClientRect();
    const [sx, sy] = clientX === undefined || clientY === undefined ? [0.5, 0.5]
      : [(clientX - area.left) / area.width, (clientY - area.top) / area.height];
    const width = Math.min(this.whole[2]!, Math.max(this.whole[2]! / 60, this.box[2]! * factor));
    const scale = width / this.box[2]!;
    const [w, h] = [width, this.box[3]! * scale];
    this.box = [this.box[0]! + (this.box[2]! - w) * sx, this.box[1]! + (this.box[3]! - h) * sy, w, h];
    if (width === this.whole[2]) this.box = [...this.whole];
    this.apply();
  }

  move(dx: number, dy: number): void {
    if (this.isWhole) return;
    this.box = [this.box[0]! + dx, this.box[1]! + dy, this.box[2]!, this.box[3]!];
    this.apply();
  }

  step(across: number, up: number): void { this.move(across * this.box[2]! * 0.15, -up * this.box[3]! * 0.15); }

  private apply(): void {
    this.svg?.setAttribute("viewBox", this.box.map((value) => value.toFixed(1)).join(" "));
    this.field.classList.toggle("zoomed", !this.isWhole);
  }
}

/** Buttons for the stud layers of a wall that has several. */
export function layerButtons(state: State): HTMLElement {
  const layers = state.wall < 0 ? [] : state.takeoff.layersOfWall[state.wall]!;
  const group = make("div", { class: "choice", role: "group", "aria-label": "Stud layer" });
  if (layers.length < 2) return group;
  layers.forEach((layer, i) => group.append(make("button", {
    type: "button", "aria-pressed": String(layer === state.layer), onclick: () => state.selectLayer(layer),
  }, `Stud layer ${i + 1}`)));
  return group;
}
