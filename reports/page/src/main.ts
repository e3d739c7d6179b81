// Puts the page together: data, state, the three ways of looking at them.

import { REVISION } from "three";
import { Takeoff, readData } from "./data";
import { byId, make } from "./dom";
import { connectElevation } from "./elevation_panel";
import { drawFilters, shownCavities } from "./filters";
import { State } from "./state";
import { drawFixed, drawSummary } from "./summary";
import { tableSpecs } from "./columns";
import { DataTable } from "./tables";
import type { System } from "./units";
import { View } from "./view";
import { connectView } from "./view_panel";

type Theme = "auto" | "light" | "dark";

function start(): void {
  const takeoff = new Takeoff(readData());
  const state = new State(takeoff);
  drawFixed(takeoff);
  drawSummary(state);
  drawFilters(state);
  const tables = connectTables(state);
  connectElevation(state);
  connectHeader(state);
  state.on(["units"], () => drawSummary(state));
  state.on(["filter"], () => tellShown(state));
  tellShown(state);
  byId("about-versions").textContent = `bayfill ${takeoff.data.version}, form of the data ${takeoff.data.schema_version}, `
    + `three r${REVISION}`;
  if (takeoff.wallCount > 0) {
    const first = takeoff.layersOfWall.findIndex((layers) => layers.length > 0);
    state.selectWall(Math.max(0, first));
  }
  // The page is there to be read before the solids are made.
  requestAnimationFrame(() => setTimeout(() => {
    const view = openView(state);
    onPaper(view);
    Object.assign(window, { bayfill: { state, takeoff, view, tables } });
    document.documentElement.dataset["ready"] = "yes";
  }));
}

/** Paper is white, whatever the theme of the screen. */
function onPaper(view: View | null): void {
  const root = document.documentElement;
  let screen = root.dataset["theme"];
  window.addEventListener("beforeprint", () => {
    screen = root.dataset["theme"];
    root.dataset["theme"] = "light";
    view?.retheme();
    view?.drawNow();
  });
  window.addEventListener("afterprint", () => {
    root.dataset["theme"] = screen ?? "light";
    view?.retheme();
  });
}

function openView(state: State): View | null {
  const canvas = byId<HTMLCanvasElement>("canvas");
  try {
    const view = new View(canvas, state);
    connectView(view, state, canvas);
    return view;
  } catch (fault) {
    const why = fault instanceof Error ? fault.message : String(fault);
    byId("view-field").replaceChildren(make("p", { class: "hint" },
      `This browser cannot draw in 3D (${why}). The elevation and the tables hold the same takeoff.`));
    byId("view-tools").hidden = true;
    return null;
  }
}

function tellShown(state: State): void {
  const shown = shownCavities(state.takeoff, state);
  const all = state.takeoff.cavityCount;
  byId("shown").textContent = shown === all ? `all ${all} cavities shown` : `${shown} of ${all} cavities shown`;
}

function connectTables(state: State): Record<string, DataTable> {
  const tables: Record<string, DataTable> = {};
  const list = byId("tabs");
  const tabs: HTMLButtonElement[] = [];
  const show = (index: number, focus: boolean): void => {
    tabs.forEach((tab, i) => {
      tab.setAttribute("aria-selected", String(i === index));
      tab.tabIndex = i === index ? 0 : -1;
      byId(tab.getAttribute("aria-controls")!).hidden = i !== index;
    });
    if (focus) tabs[index]!.focus();
    Object.values(tables)[index]?.reselect(true);
  };
  tableSpecs(state).forEach((spec, index) => {
    const table = new DataTable(spec, state);
    tables[spec.id] = table;
    const tab = make("button", {
      type: "button", role: "tab", id: `tab-${spec.id}`, "aria-controls": `panel-${spec.id}`,
      onclick: () => show(index, false),
    }, spec.title, make("small", {}, String(spec.count)));
    tabs.push(tab);
    list.append(tab);
    byId("panels").append(make("div", {
      role: "tabpanel", id: `panel-${spec.id}`, "aria-labelledby": `tab-${spec.id}`, hidden: true,
    }, table.panel));
  });
  list.addEventListener("keydown", (event) => {
    const index = tabs.findIndex((tab) => tab.tabIndex === 0);
    const next: Record<string, number> = {
      ArrowRight: (index + 1) % tabs.length, ArrowLeft: (index + tabs.length - 1) % tabs.length, Home: 0,
      End: tabs.length - 1,
    };
    if (next[event.key] === undefined) return;
    event.preventDefault();
    show(next[event.key]!, true);
  });
  show(0, false);
  let last = -1;
  state.on(["selection"], () => {
    const inTables = byId("panels").contains(document.activeElement);
    if (!inTables && state.cavity >= 0 && state.cavity !== last) show(1, false);
    if (!inTables && state.cavity < 0 && last >= 0 && state.wall >= 0) show(0, false);
    last = state.cavity;
    for (const table of Object.values(tables)) table.reselect(!table.panel.contains(document.activeElement));
  });
  state.on(["filter"], () => { for (const table of Object.values(tables)) table.refresh(); });
  state.on(["units"], () => { for (const table of Object.values(tables)) table.refresh(true); });
  return tables;
}

function connectHeader(state: State): void {
  const units = byId<HTMLSelectElement>("units");
  units.value = state.units.system;
  units.addEventListener("change", () => {
    state.units.system = units.value as System;
    state.say("units");
  });
  const theme = byId<HTMLSelectElement>("theme");
  const dark = window.matchMedia("(prefers-color-scheme: dark)");
  const apply = (): void => {
    const chosen = theme.value as Theme;
    document.documentElement.dataset["theme"] = chosen === "auto" ? (dark.matches ? "dark" : "light") : chosen;
    state.say("theme");
  };
  theme.addEventListener("change", apply);
  dark.addEventListener("change", apply);
  apply();
  const about = byId<HTMLDialogElement>("about");
  byId("open-about").addEventListener("click", () => about.showModal());
  byId("close-about").addEventListener("click", () => about.close());
  byId("print").addEventListener("click", () => window.print());
}

start();
