// Signs of the elevation: told apart by hatch as well as by colour, so that a black-and-white print still reads.

import { makeSvg } from "./dom";
import { METHOD_COLOURS } from "./palette";
import { polygons, type Shape } from "./data";

/** mm of the wall along x and z, z upwards, to the drawing, whose y runs down. */
export const across = (x: number): number => Math.round(x * 10_000) / 10;
export const down = (z: number): number => -across(z);

export function path(shape: Shape): string {
  return polygons(shape).flat().map((ring) =>
    ring.map(([x, z], i) => `${i ? "L" : "M"}${across(x)} ${down(z)}`).join("") + "Z").join("");
}

/** Hatches by method; `unit` is mm of the wall in one millimetre or so of the page. */
export function hatches(unit: number): SVGElement {
  const definitions = makeSvg("defs");
  for (const [method, colour] of Object.entries(METHOD_COLOURS)) {
    const step = unit * (method === "batt" ? 1.7 : method === "before_sheathing" ? 1.1 : 2.4);
    const pattern = makeSvg("pattern", {
      id: `hatch-${method}`, width: step, height: step, patternUnits: "userSpaceOnUse",
      patternTransform: method === "before_sheathing" ? "rotate(0)" : "rotate(45)",
    });
    pattern.append(makeSvg("rect", { width: step, height: step, class: "hatch-ground" }));
    pattern.append(makeSvg("rect", { width: step, height: step, fill: colour, "fill-opacity": 0.4 }));
    const line = (ends: Record<string, number>): SVGElement =>
      makeSvg("line", { ...ends, stroke: colour, "stroke-width": 0.3 * unit });
    if (method !== "none" && method !== "seal") pattern.append(line({ x1: 0, y1: 0, x2: step, y2: 0 }));
    if (method === "batt") pattern.append(line({ x1: 0, y1: 0, x2: 0, y2: step }));
    if (method === "seal") pattern.append(makeSvg("rect", { width: step, height: step, fill: colour }));
    definitions.append(pattern);
  }
  return definitions;
}

export const hatchOf = (method: string): string => method in METHOD_COLOURS ? `url(#hatch-${method})` : "none";

/** Lower pass: a full disc with its number. Upper pass: a ring with its number and a cross that stands out of it. */
export function holeSign(x: number, z: number, radius: number, number: number, upper: boolean): SVGElement {
  const [cx, cy] = [across(x), down(z)];
  const sign = makeSvg("g", { class: upper ? "hole upper" : "hole" });
  const stroke = radius / 6;
  if (upper) {
    const out = radius * 1.45;
    sign.append(makeSvg("path", {
      d: `M${cx - out} ${cy}H${cx + out}M${cx} ${cy - out}V${cy + out}`, class: "hole-cross", "stroke-width": stroke,
    }));
  }
  sign.append(makeSvg("circle", { cx, cy, r: radius, class: "hole-disc", "stroke-width": stroke }));
  sign.append(text(cx, cy, String(number), radius * 1.35, "hole-number"));
  return sign;
}

/** Text centred on a point of the drawing. */
export function text(x: number, y: number, words: string, size: number, name: string, anchor = "middle"): SVGElement {
  return makeSvg("text", {
    x, y: y + 0.35 * size, "font-size": Math.round(size * 100) / 100, "text-anchor": anchor, class: name,
  }, words);
}

/** Width of words in sizes of the font; near enough to keep labels apart. */
export const wide = (words: string): number => 0.6 * words.length;
