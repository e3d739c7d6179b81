// The elevation beside the 3D view: follows the selection, selects on click, zooms, prints.

import { methodWords, plainWords, word } from "./data";
import { byId, make } from "./dom";
import { drawDetails } from "./details";
import { Zoom, drawElevation, layerButtons } from "./elevation";
import type { State } from "./state";
import { stepCavity } from "./view_panel";

/** Units of the drawing (about a millimetre each) for a wall on an A4 page. */
const PAPER_ROOM = 190;

export function connectElevation(state: State): void {
  const field = byId("elevation-field");
  const zoom = new Zoom(field);
  let drawn = -2;
  let paper = false;
  const room = (): number => paper ? PAPER_ROOM : Math.min(PAPER_ROOM, Math.max(105, field.clientWidth / 6 - 40));
  const redraw = (keep: boolean): void => {
    drawDetails(state);
    byId("layer-choice").replaceChildren(layerButtons(state));
    drawn = state.layer;
    if (state.layer < 0) {
      field.replaceChildren(make("p", { class: "hint" }, state.wall < 0
        ? "Select a wall or a cavity in the 3D view or in a table: its elevation is drawn here."
        : "This wall was not taken off, so it has no elevation; the facts below say why."));
    } else {
      const { svg, box } = drawElevation(state, state.layer, room());
      field.replaceChildren(svg);
      zoom.show(svg, box, keep);
    }
    mark();
  };
  const mark = (): void => {
    for (const shape of field.querySelectorAll("[data-cavity]")) {
      shape.classList.toggle("selected", Number(shape.getAttribute("data-cavity")) === state.cavity);
    }
    for (const id of ["elevation-in", "elevation-out", "elevation-fit", "elevation-print", "cavity-before", "cavity-after"]) {
      byId<HTMLButtonElement>(id).disabled = state.layer < 0;
    }
  };
  state.on(["selection"], () => {
    if (state.layer !== drawn || state.layer < 0) redraw(false);
    else { drawDetails(state); mark(); }
  });
  state.on(["units"], () => redraw(true));
  let start: [number, number] = [0, 0];
  field.addEventListener("pointerdown", (event) => { start = [event.clientX, event.clientY]; });
  field.addEventListener("click", (event) => {
    field.focus({ preventScroll: true });
    if (Math.hypot(event.clientX - start[0], event.clientY - start[1]) > 5) return;
    const shape = event.target instanceof Element ? event.target.closest("[data-cavity]") : null;
    if (shape !== null) state.selectCavity(Number(shape.getAttribute("data-cavity")));
  });
  field.addEventListener("keydown", (event) => {
    const keys: Record<string, () => void> = {
      ArrowRight: () => event.shiftKey ? zoom.step(1, 0) : stepCavity(state, 1),
      ArrowLeft: () => event.shiftKey ? zoom.step(-1, 0) : stepCavity(state, -1),
      ArrowUp: () => zoom.step(0, 1), ArrowDown: () => zoom.step(0, -1),
      "+": () => zoom.by(1 / 1.3), "=": () => zoom.by(1 / 1.3), "-": () => zoom.by(1.3), f: () => zoom.fit(),
      Escape: () => state.clear(),
    };
    const act = event.ctrlKey || event.metaKey || event.altKey ? undefined : keys[event.key];
    if (act === undefined) return;
    event.preventDefault();
    act();
  });
  byId("elevation-in").addEventListener("click", () => zoom.by(1 / 1.3));
  byId("elevation-out").addEventListener("click", () => zoom.by(1.3));
  byId("elevation-fit").addEventListener("click", () => zoom.fit());
  byId("cavity-before").addEventListener("click", () => stepCavity(state, -1));
  byId("cavity-after").addEventListener("click", () => stepCavity(state, 1));
  byId("elevation-print").addEventListener("click", () => {
    document.documentElement.dataset["print"] = "elevation";
    window.print();
  });
  window.addEventListener("beforeprint", () => {
    paper = true;
    redraw(false);
    byId<HTMLDetailsElement>("cautions-fold").open = true;
    byId("print-table").replaceChildren(...printTable(state));
  });
  window.addEventListener("afterprint", () => {
    paper = false;
    redraw(false);
    delete document.documentElement.dataset["print"];
    byId("print-table").replaceChildren();
  });
  redraw(false);
}

/** The cavities of the wall on paper, where no table scrolls. */
function printTable(state: State): HTMLElement[] {
  if (state.layer < 0) return [];
  const { takeoff, units } = state;
  const { cavities } = takeoff.data;
  const heads = ["No.", "Kind", "Method", "Width", "Height", "Depth", "Volume", "Fibre", "Holes", "Done"];
  const rows = takeoff.cavitiesOfLayer[state.layer]!.map((row) => [
    word(cavities.number, row), plainWords(word(cavities.kind, row)), methodWords(word(cavities.method, row)),
    units.text(cavities.x_max_m[row]! - cavities.x_min_m[row]!, "length"),
    units.text(cavities.z_max_m[row]! - cavities.z_min_m[row]!, "length"), units.text(cavities.depth_m[row], "length"),
    units.text(cavities.volume_m3[row], "volume"), units.text(cavities.mass_kg[row], "mass"),
    String(takeoff.holesOfCavity[row]!.length), "",
  ]);
  return [make("table", { class: "plain" },
    make("thead", {}, make("tr", {}, ...heads.map((head, i) => make("th", { scope: "col", class: i > 2 ? "numeric" : "" }, head)))),
    make("tbody", {}, ...rows.map((cells) => make("tr", {}, ...cells.map((cell, i) =>
      make("td", { class: i > 2 ? "numeric" : "" }, cell))))))];
}
