// The facts of what is selected, in full.

import { methodWords, plainWords, word } from "./data";
import { byId, make } from "./dom";
import type { State } from "./state";

export function drawDetails(state: State): void {
  const { takeoff } = state;
  const title = byId("elevation-title");
  if (state.wall < 0) {
    title.textContent = "No wall selected";
    byId("facts").replaceChildren();
    return;
  }
  title.textContent = takeoff.wallName(state.wall);
  const facts = [...wallFacts(state), ...(state.cavity >= 0 ? cavityFacts(state) : [])];
  byId("facts").replaceChildren(...facts.filter(([, text]) => text !== "").map(([term, text]) =>
    make("div", {}, make("dt", {}, term), make("dd", {}, text))));
}

function wallFacts(state: State): [string, string][] {
  const { takeoff, units, wall } = state;
  const { walls, layers } = takeoff.data;
  const size = (value: number | null | undefined): string => units.text(value, "length");
  const taken = word(walls.status, wall) === "taken_off";
  return [
    ["Type", word(walls.type, wall)],
    ["Storey", word(walls.storey, wall)],
    ["Status", plainWords(word(walls.status, wall)) + (word(walls.reason, wall) ? `: ${word(walls.reason, wall)}` : "")],
    ["Insulated", taken ? `${walls.insulated[wall] ? "yes" : "no"}: ${word(walls.insulated_reason, wall)}` : ""],
    ["Size", [size(walls.length_m[wall]), size(walls.height_m[wall])].filter(Boolean).join(" x ")
      + (walls.stud_depth_m[wall] ? `, studs ${size(walls.stud_depth_m[wall])} deep` : "")],
    ["Insulated area", units.text(walls.insulated_area_m2[wall], "area")],
    ["Fill volume", units.text(walls.fill_volume_m3[wall], "volume")],
    ["Frame", taken ? frameWords(word(walls.framing_source, wall), word(walls.framing_rule, wall)) : ""],
    ["Fill side", state.layer >= 0 ? word(layers.fill_side, state.layer) : ""],
    ["Rooms", word(walls.rooms, wall)],
    ["Rules of the job file", word(walls.job_rules, wall)],
  ];
}

const frameWords = (source: string, rule: string): string =>
  rule.startsWith(source) ? plainWords(rule) : `${plainWords(source)}, ${rule}`;

function cavityFacts(state: State): [string, string][] {
  const { takeoff, units, cavity } = state;
  const { cavities, holes } = takeoff.data;
  const number = word(cavities.number, cavity);
  const size = [cavities.x_max_m[cavity]! - cavities.x_min_m[cavity]!, cavities.z_max_m[cavity]! - cavities.z_min_m[cavity]!,
    cavities.depth_m[cavity]!].map((value) => units.text(value, "length")).join(" x ");
  const places = takeoff.holesOfCavity[cavity]!.map((hole) =>
    `${holes.hole[hole]} at ${units.text(holes.height_above_floor_m[hole], "length")}`
    + `${holes.upper[hole] ? ", upper pass" : ""}${holes.ladder[hole] ? ", from a ladder" : ""}`);
  return [
    [`Cavity ${number}`, `${plainWords(word(cavities.kind, cavity))}, ${methodWords(word(cavities.method, cavity))}`],
    ["Why so", word(cavities.reason, cavity)],
    ["Width x height x depth", size],
    ["Volume", units.text(cavities.volume_m3[cavity], "volume")],
    ["Fibre", units.text(cavities.mass_kg[cavity], "mass")],
    ["Holes above the floor", places.join("; ")],
    ["What stands in it", word(cavities.obstructions, cavity)],
  ];
}
