// Buttons, sliders, legend, tip and keys of the 3D view.

import { type Takeoff, plainWords, word } from "./data";
import { announce, byId, make, swatch } from "./dom";
import { cavityWords } from "./elevation";
import type { Hit } from "./picking";
import type { ColourBy, State } from "./state";
import type { Part, SectionAxis, Side, View } from "./view";

const SIDES: [Side, string][] = [
  ["corner", "Corner"], ["front", "Front"], ["back", "Back"], ["left", "Left"], ["right", "Right"], ["top", "Top"],
  ["bottom", "Bottom"],
];
const PARTS: [Part, string][] = [
  ["walls", "Walls"], ["members", "Members"], ["cavities", "Cavities"], ["openings", "Openings"], ["holes", "Holes"],
];

export function connectView(view: View, state: State, canvas: HTMLCanvasElement): void {
  fillSides(view);
  fillParts(view);
  connectColour(view, state);
  connectStoreys(view, state);
  connectSection(view);
  byId("fit").addEventListener("click", () => view.fit());
  byId("fit-selection").addEventListener("click", () => view.fitSelection());
  byId("closer").addEventListener("click", () => view.zoom(1 / 1.3));
  byId("farther").addEventListener("click", () => view.zoom(1.3));
  connectPointer(view, state, canvas);
  canvas.addEventListener("keydown", (event) => viewKey(event, view, state));
  state.on(["filter"], () => { view.refilter(); view.recolour(); view.resection(); drawLegend(view); });
  state.on(["units"], () => { view.recolour(); drawLegend(view); });
  state.on(["theme"], () => view.retheme());
  state.on(["selection"], () => {
    view.reselect();
    byId<HTMLButtonElement>("fit-selection").disabled = state.wall < 0;
  });
  byId<HTMLButtonElement>("fit-selection").disabled = state.wall < 0;
  drawLegend(view);
}

function fillSides(view: View): void {
  byId("sides").replaceChildren(...SIDES.map(([side, title]) =>
    make("button", { type: "button", onclick: () => view.look(side) }, title)));
}

function fillParts(view: View): void {
  byId("parts").replaceChildren(...PARTS.map(([part, title]) => {
    const input = make("input", { type: "checkbox" });
    input.checked = true;
    input.addEventListener("change", () => {
      view.parts[part] = input.checked;
      view.refilter();
    });
    return make("label", { class: "check" }, input, make("span", {}, title));
  }));
}

function connectColour(view: View, state: State): void {
  const select = byId<HTMLSelectElement>("colour");
  select.value = state.colour;
  select.addEventListener("change", () => {
    state.colour = select.value as ColourBy;
    view.recolour();
    drawLegend(view);
    state.say("colour");
  });
}

function connectStoreys(view: View, state: State): void {
  const { storeys } = state.takeoff;
  const slider = byId<HTMLInputElement>("storey");
  const alone = byId<HTMLInputElement>("storey-alone");
  const words = byId("storey-words");
  slider.max = String(Math.max(0, storeys.length - 1));
  slider.value = slider.max;
  slider.disabled = alone.disabled = storeys.length < 2;
  const apply = (): void => {
    view.storey = Number(slider.value);
    view.alone = alone.checked;
    const name = storeys[view.storey] || "no storey";
    words.textContent = view.alone ? `${name} only` : view.storey === storeys.length - 1 ? "all storeys" : `up to ${name}`;
    slider.setAttribute("aria-valuetext", words.textContent);
    view.refilter();
    view.recolour();
    drawLegend(view);
  };
  slider.addEventListener("input", apply);
  alone.addEventListener("change", apply);
  words.textContent = "all storeys";
  slider.setAttribute("aria-valuetext", "all storeys");
}

function connectSection(view: View): void {
  const axis = byId<HTMLSelectElement>("section-axis");
  const place = byId<HTMLInputElement>("section-place");
  const flip = byId<HTMLInputElement>("section-flip");
  const apply = (): void => {
    view.section = { axis: axis.value as SectionAxis, share: Number(place.value) / 100, flipped: flip.checked };
    place.disabled = flip.disabled = axis.value === "off";
    view.resection();
  };
  axis.addEventListener("change", apply);
  place.addEventListener("input", apply);
  flip.addEventListener("change", apply);
}

function drawLegend(view: View): void {
  const entries = view.colours.entries.filter((entry) => entry.count > 0);
  byId("legend").replaceChildren(...entries.map((entry) =>
    make("li", {}, swatch(entry.colour), make("span", {}, entry.label), make("small", {}, String(entry.count)))));
}

function connectPointer(view: View, state: State, canvas: HTMLCanvasElement): void {
  const tip = byId("tip");
  let pressed: [number, number] | null = null;
  let place: [number, number] | null = null;
  let asked = false;
  const at = (event: PointerEvent): [number, number] => {
    const box = canvas.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  };
  const hover = (): void => {
    asked = false;
    const hit = place === null || pressed !== null ? null : view.pick(...place);
    tip.hidden = hit === null;
    canvas.classList.toggle("over", hit !== null);
    if (hit === null || place === null) return;
    tip.replaceChildren(...tipLines(state, hit));
    const [x, y] = place;
    const left = x + 16 + tip.offsetWidth > canvas.clientWidth ? x - 16 - tip.offsetWidth : x + 16;
    tip.style.left = `${Math.max(4, left)}px`;
    tip.style.top = `${Math.max(4, Math.min(y + 16, canvas.clientHeight - tip.offsetHeight - 4))}px`;
  };
  canvas.addEventListener("pointermove", (event) => {
    if (event.pointerType === "touch") return;
    place = at(event);
    if (!asked) { asked = true; requestAnimationFrame(hover); }
  });
  canvas.addEventListener("pointerleave", () => { place = null; tip.hidden = true; });
  canvas.addEventListener("pointerdown", (event) => { pressed = at(event); tip.hidden = true; canvas.focus({ preventScroll: true }); });
  canvas.addEventListener("pointerup", (event) => {
    const end = at(event);
    const still = pressed !== null && Math.hypot(end[0] - pressed[0], end[1] - pressed[1]) < 5;
    pressed = null;
    if (still && event.button === 0) select(state, view.pick(...end));
  });
  view.wheelZooms = false;
  canvas.addEventListener("focus", () => { view.wheelZooms = true; });
  canvas.addEventListener("blur", () => { view.wheelZooms = false; });
}

function select(state: State, hit: Hit | null): void {
  if (hit === null) state.clear();
  else if (hit.kind === "cavity") state.selectCavity(hit.id);
  else state.selectWall(wallOf(state.takeoff, hit));
}

function wallOf(takeoff: Takeoff, hit: Hit): number {
  if (hit.kind === "wall") return hit.id;
  const layer = hit.kind === "cavity" ? takeoff.data.cavities.layer[hit.id]! : takeoff.data.members.layer[hit.id]!;
  return takeoff.data.layers.wall[layer]!;
}

function tipLines(state: State, hit: Hit): HTMLElement[] {
  const { takeoff } = state;
  const { walls, members, cavities } = takeoff.data;
  const wall = wallOf(takeoff, hit);
  const lines = [make("strong", {}, takeoff.wallName(wall))];
  if (hit.kind === "cavity") {
    lines.push(make("span", {}, `Cavity ${cavityWords(state, hit.id)}`));
    const mass = state.units.text(cavities.mass_kg[hit.id], "mass");
    if (mass) lines.push(make("span", {}, `${mass} of fibre`));
  } else if (hit.kind === "member") {
    lines.push(make("span", {}, [plainWords(word(members.role, hit.id)), word(members.section, hit.id),
      plainWords(word(members.source, hit.id))].filter(Boolean).join(", ")));
  } else {
    const status = word(walls.status, wall);
    lines.push(make("span", {}, [word(walls.storey, wall), status === "taken_off" ? "" : plainWords(status),
      word(walls.reason, wall)].filter(Boolean).join(", ")));
  }
  return lines;
}

function viewKey(event: KeyboardEvent, view: View, state: State): void {
  const turn = 0.12;
  const step = 0.06;
  const keys: Record<string, () => void> = {
    ArrowLeft: () => event.shiftKey ? view.move(-step, 0) : view.turn(-turn, 0),
    ArrowRight: () => event.shiftKey ? view.move(step, 0) : view.turn(turn, 0),
    ArrowUp: () => event.shiftKey ? view.move(0, step) : view.turn(0, turn),
    ArrowDown: () => event.shiftKey ? view.move(0, -step) : view.turn(0, -turn),
    "+": () => view.zoom(1 / 1.3), "=": () => view.zoom(1 / 1.3), "-": () => view.zoom(1.3),
    f: () => view.fit(), s: () => view.fitSelection(),
    Escape: () => state.clear(),
    "[": () => stepCavity(state, -1), "]": () => stepCavity(state, 1),
    ...Object.fromEntries(SIDES.map(([side, title], i) => [String(i), () => { view.look(side); announce(`Seen from: ${title}`); }])),
  };
  const act = event.ctrlKey || event.metaKey || event.altKey ? undefined : keys[event.key];
  if (act === undefined) return;
  event.preventDefault();
  act();
}

/** Selects the next cavity of the wall, or of all where none is selected. */
export function stepCavity(state: State, way: 1 | -1): void {
  const { takeoff } = state;
  const own = state.layer >= 0 ? takeoff.cavitiesOfLayer[state.layer]! : [];
  const rows = own.length > 0 ? own : takeoff.data.cavities.layer.map((_, cavity) => cavity);
  const shown = rows.filter((cavity) => state.isCavityShown(cavity));
  if (shown.length === 0) return;
  const place = shown.indexOf(state.cavity);
  const next = shown[place < 0 ? (way > 0 ? 0 : shown.length - 1) : (place + way + shown.length) % shown.length]!;
  state.selectCavity(next);
  announce(`${takeoff.wallName(state.wall)}, cavity ${cavityWords(state, next)}`);
}

