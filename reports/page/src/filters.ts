// Hide and show by storey, wall type, room and method: for the 3D view and the tables alike.

import { methodWords, type Takeoff, type Words, word } from "./data";
import { byId, make } from "./dom";
import type { Facet, State } from "./state";

interface Choice { name: string; label: string; count: number }

export function drawFilters(state: State): void {
  const { takeoff } = state;
  const { walls, cavities } = takeoff.data;
  const facets: [Facet, string, Choice[]][] = [
    ["storey", "Storeys", choices(walls.storey, takeoff.storeys, (name) => name || "no storey")],
    ["method", "Methods", choices(cavities.method, sorted(cavities.method), methodWords)],
    ["type", "Wall types", choices(walls.type, sorted(walls.type), (name) => name || "no type")],
    ["room", "Rooms", choices(cavities.room, sorted(cavities.room), (name) => name || "no room")],
  ];
  byId("filters").replaceChildren(...facets.filter(([, , rows]) => rows.length > 0)
    .map(([facet, title, rows], i) => group(state, facet, title, rows, i < 2 && window.innerWidth >= 900)));
}

function choices(column: Words, names: string[], label: (name: string) => string): Choice[] {
  const counts = new Map<string, number>();
  column.rows.forEach((_, row) => counts.set(word(column, row), (counts.get(word(column, row)) ?? 0) + 1));
  return names.filter((name) => counts.has(name)).map((name) => ({ name, label: label(name), count: counts.get(name)! }));
}

const sorted = (column: Words): string[] =>
  [...column.words].sort((a, b) => a.localeCompare(b, undefined, { numeric: true }));

function group(state: State, facet: Facet, title: string, rows: Choice[], open: boolean): HTMLElement {
  const boxes = rows.map((row) => {
    const input = make("input", { type: "checkbox" });
    input.checked = !state.hidden[facet].has(row.name);
    input.addEventListener("change", () => {
      state.setHidden(facet, [row.name], !input.checked);
      tell();
    });
    return { input, row, label: make("label", { class: "check" }, input, make("span", {}, row.label),
      make("small", {}, String(row.count))) };
  });
  const note = make("small", { class: "hidden-count" });
  const tell = (): void => {
    const hidden = state.hidden[facet].size;
    note.textContent = hidden > 0 ? `${hidden} hidden` : "";
  };
  const all = (shown: boolean) => (): void => {
    for (const { input } of boxes) input.checked = shown;
    state.setHidden(facet, rows.map((row) => row.name), !shown);
    tell();
  };
  const content = make("fieldset", {}, make("legend", { class: "off-screen" }, title),
    make("div", { class: "both" },
      make("button", { type: "button", class: "quiet", onclick: all(true) }, "Show all"),
      make("button", { type: "button", class: "quiet", onclick: all(false) }, "Hide all")),
    make("div", { class: "checks" }, ...boxes.map(({ label }) => label)));
  const details = make("details", { class: "facet" }, make("summary", {}, title, note), content);
  details.open = open;
  return details;
}

/** How many cavities the filters leave, for the line under the title. */
export function shownCavities(takeoff: Takeoff, state: State): number {
  let count = 0;
  for (let cavity = 0; cavity < takeoff.cavityCount; cavity++) if (state.isCavityShown(cavity)) count += 1;
  return count;
}
