// Colours of our own, searched so that any two differ for people with and without each kind of colour blindness
// (tests/unit/test_page_palette.py holds them to it).

import { type Takeoff, methodWords, plainWords, word } from "./data";
import type { ColourBy } from "./state";
import type { Units } from "./units";

export const METHOD_COLOURS: Record<string, string> = {
  blow: "#5bb1fe", batt: "#ecaa0b", before_sheathing: "#ab331f", seal: "#6d236d", none: "#a4a4a4",
};
export const KIND_COLOURS: Record<string, string> = {
  full_height_bay: "#778ffa", bay_over_header: "#f6c330", bay_under_sill: "#a0df81",
  bay_between_blockings: "#5cdefc", raked_bay: "#cb7227", narrow_bay: "#9961a6", joined_bays: "#3c349a",
  closed_pocket: "#8a0316", sliver: "#75254e", opening_gap: "#a4a4a4",
};
const ROOM_CYCLE = ["#778ffa", "#f6c330", "#a0df81", "#cb7227", "#9961a6", "#5cdefc", "#8a0316", "#3c349a", "#75254e"];
const NO_ROOM = "#a4a4a4";
/** Shallow to deep. */
const DEPTH_RAMP: [number, number, number][] = [[246, 226, 150], [126, 186, 151], [46, 122, 140], [52, 60, 122]];
const MOST_CLASSES = 6;

export interface Entry { key: string; label: string; colour: string; count: number }
export interface Colouring { colourOf(cavity: number): string; entries: Entry[] }

/** Colours of all cavities by one property, with what the legend says; `shown` tells which cavities count. */
export function colouring(takeoff: Takeoff, by: ColourBy, units: Units, shown: (cavity: number) => boolean): Colouring {
  const { cavities } = takeoff.data;
  if (by === "depth") return byDepth(takeoff, units, shown);
  const column = by === "method" ? cavities.method : by === "kind" ? cavities.kind : cavities.room;
  const colours = new Map<string, string>();
  const words = [...column.words].sort((a, b) => rank(by, a) - rank(by, b) || a.localeCompare(b));
  let turn = 0;
  for (const name of words) {
    if (by === "method") colours.set(name, METHOD_COLOURS[name] ?? NO_ROOM);
    else if (by === "kind") colours.set(name, KIND_COLOURS[name] ?? NO_ROOM);
    else colours.set(name, name === "" ? NO_ROOM : ROOM_CYCLE[turn++ % ROOM_CYCLE.length]!);
  }
  const counts = new Map<string, number>();
  for (let cavity = 0; cavity < takeoff.cavityCount; cavity++) {
    if (shown(cavity)) counts.set(word(column, cavity), (counts.get(word(column, cavity)) ?? 0) + 1);
  }
  const label = (name: string): string =>
    by === "method" ? methodWords(name) : by === "kind" ? plainWords(name) : name || "no room";
  return {
    colourOf: (cavity) => colours.get(word(column, cavity)) ?? NO_ROOM,
    entries: words.map((name) => ({
      key: name, label: label(name), colour: colours.get(name)!, count: counts.get(name) ?? 0,
    })),
  };
}

function rank(by: ColourBy, name: string): number {
  const order = Object.keys(by === "method" ? METHOD_COLOURS : by === "kind" ? KIND_COLOURS : {});
  return name === "" ? 1000 : order.indexOf(name);
}

function byDepth(takeoff: Takeoff, units: Units, shown: (cavity: number) => boolean): Colouring {
  const depths = takeoff.data.cavities.depth_m;
  const rounded = depths.map((depth) => Math.round(depth * 1000));
  const distinct = [...new Set(rounded)].sort((a, b) => a - b);
  const classes = distinct.length <= MOST_CLASSES ? distinct.map((d): [number, number] => [d, d]) : ranges(distinct);
  const classOf = new Map<number, number>();
  for (const depth of distinct) {
    classOf.set(depth, classes.findIndex(([low, high]) => depth >= low && depth <= high));
  }
  const counts = classes.map(() => 0);
  rounded.forEach((depth, cavity) => { if (shown(cavity)) counts[classOf.get(depth)!]! += 1; });
  const colours = classes.map((_, index) => ramp(classes.length < 2 ? 0.5 : index / (classes.length - 1)));
  return {
    colourOf: (cavity) => colours[classOf.get(rounded[cavity]!)!]!,
    entries: classes.map(([low, high], index) => ({
      key: String(low),
      label: low === high ? units.text(low / 1000, "length")
        : `${units.text(low / 1000, "length")} to ${units.text(high / 1000, "length")}`,
      colour: colours[index]!,
      count: counts[index]!,
    })),
  };
}

/** Classes of about equal width that hold every depth, mm. */
function ranges(distinct: number[]): [number, number][] {
  const low = distinct[0]!;
  const width = (distinct.at(-1)! - low) / MOST_CLASSES;
  const groups = new Map<number, number[]>();
  for (const depth of distinct) {
    const index = Math.min(MOST_CLASSES - 1, Math.floor((depth - low) / width));
    groups.set(index, [...(groups.get(index) ?? []), depth]);
  }
  return [...groups.values()].map((group) => [group[0]!, group.at(-1)!]);
}

function ramp(share: number): string {
  const place = share * (DEPTH_RAMP.length - 1);
  const index = Math.min(DEPTH_RAMP.length - 2, Math.floor(place));
  const [from, to] = [DEPTH_RAMP[index]!, DEPTH_RAMP[index + 1]!];
  const mixed = from.map((value, i) => Math.round(value + (to[i]! - value) * (place - index)));
  return `#${mixed.map((value) => value.toString(16).padStart(2, "0")).join("")}`;
}
