// What an estimator and a builder read first.

import { plainWords, methodWords, type Takeoff, word } from "./data";
import { byId, make, swatch } from "./dom";
import { METHOD_COLOURS } from "./palette";
import type { State } from "./state";

export function drawSummary(state: State): void {
  byId("figures").replaceChildren(...figures(state));
  byId("methods").replaceChildren(...methods(state));
  byId("frames").replaceChildren(...frames(state));
  byId("left-out").replaceChildren(...leftOut(state));
}

function figures(state: State): HTMLElement[] {
  const { takeoff, units } = state;
  const { totals, summary } = takeoff.data;
  const amount = (name: string): number => Number(totals[name] ?? 0);
  const holes = takeoff.data.holes.cavity.length;
  const facts: [string, string, string][] = [
    ["Insulated area", units.text(amount("insulated_area"), "area"), "openings deducted, framing included"],
    ["Fill volume", units.text(amount("fill_volume"), "volume"), `in ${units.text(amount("fill_cavities"), "count")} cavities`],
  ];
  if (summary.fibre_mass_kg !== null) {
    facts.push(["Fibre, blown", units.text(summary.fibre_mass_kg, "mass"), `${summary.fibre}, at design density`]);
  }
  if (summary.bags !== null) {
    facts.push(["Bags", units.text(summary.bags, "count"), `of ${units.text(summary.bag_mass_kg, "mass")}, waste of the job added`]);
  }
  facts.push(["Holes in the netting", units.text(holes, "count"), "as few as reach every blown bay"]);
  facts.push(["Walls", `${amount("taken_off")} of ${amount("walls")}`,
    `taken off; ${amount("insulated_walls")} are filled`]);
  return facts.map(([term, value, note]) => make("div", { class: "figure" },
    make("dt", {}, term), make("dd", {}, make("strong", {}, value), make("span", {}, note))));
}

function methods(state: State): HTMLElement[] {
  const { takeoff, units } = state;
  const { cavities } = takeoff.data;
  const sums = new Map<string, { count: number; volume: number }>();
  let apart = 0;
  for (let row = 0; row < takeoff.cavityCount; row++) {
    if (["sliver", "opening_gap"].includes(word(cavities.kind, row))) {
      apart += 1;
      continue;
    }
    const sum = sums.get(word(cavities.method, row)) ?? { count: 0, volume: 0 };
    sums.set(word(cavities.method, row), { count: sum.count + 1, volume: sum.volume + cavities.volume_m3[row]! });
  }
  const slivers = apart === 0 ? [] : [make("p", {}, `${units.text(apart, "count")} slivers and gaps at openings are not `
    + "counted here; the view, its filters and the table of cavities hold them too.")];
  if (sums.size === 0) return [make("p", {}, "No cavities were found."), ...slivers];
  const whole = [...sums.values()].reduce((sum, each) => sum + each.volume, 0);
  const order = Object.keys(METHOD_COLOURS).filter((method) => sums.has(method));
  const bar = make("div", { class: "bar", "aria-hidden": "true" });
  for (const method of order) {
    const part = make("span");
    part.style.flexGrow = String(Math.max(0.004, sums.get(method)!.volume / whole));
    part.style.backgroundColor = METHOD_COLOURS[method]!;
    bar.append(part);
  }
  const table = make("table", { class: "plain" },
    make("thead", {}, make("tr", {}, ...["Method", "Cavities", "Volume"].map((title, i) =>
      make("th", { scope: "col", class: i ? "numeric" : "" }, title)))),
    make("tbody", {}, ...order.map((method) => make("tr", {},
      make("th", { scope: "row" }, swatch(METHOD_COLOURS[method]!), methodWords(method)),
      make("td", { class: "numeric" }, units.text(sums.get(method)!.count, "count")),
      make("td", { class: "numeric" }, units.text(sums.get(method)!.volume, "volume"))))));
  return [bar, table, ...slivers];
}

function frames(state: State): HTMLElement[] {
  const { totals } = state.takeoff.data;
  const area = Number(totals["insulated_area"] ?? 0);
  if (!(area > 0)) return [make("p", {}, "No wall is insulated, so there is no frame to speak of.")];
  const modelled = Number(totals["insulated_area_modelled"] ?? 0) / area;
  const bar = make("div", { class: "bar", "aria-hidden": "true" });
  for (const [name, share] of [["modelled", modelled], ["laid-out", 1 - modelled]] as const) {
    const part = make("span", { class: name });
    part.style.flexGrow = String(share);
    if (share > 0) bar.append(part);
  }
  const percent = (share: number): string => `${(100 * share).toFixed(0)} %`;
  const fraction = totals["insulated_framing_fraction"];
  return [bar, make("p", {}, make("strong", {}, percent(modelled)), " of the insulated area has its frame in the model, ",
    make("strong", {}, percent(1 - modelled)), " was laid out by rule. A laid-out frame is a fair average, not a survey."),
    ...(typeof fraction === "number"
      ? [make("p", {}, `Framing takes ${state.units.text(fraction, "share")} of the net area of the insulated walls.`)] : [])];
}

function leftOut(state: State): HTMLElement[] {
  const rows = state.takeoff.data.summary.left_out;
  if (rows.length === 0) return [make("p", {}, "None: every wall of the model was taken off.")];
  return [make("ul", { class: "reasons" }, ...rows.map((row) => make("li", {},
    make("strong", {}, `${row.count} ${row.count === 1 ? "wall" : "walls"}`),
    row.area_m2 > 0 ? `, ${state.units.text(row.area_m2, "area")}` : "",
    row.status === "failed" ? ", failed" : "",
    `: ${row.reason}`,
    make("small", {}, row.names.slice(0, 3).filter(Boolean).join(", ")
      + (row.names.length > 3 ? ` and ${row.names.length - 3} more types` : "")))))];
}

/** Assumptions, cautions and the facts of the model: they do not change with units. */
export function drawFixed(takeoff: Takeoff): void {
  const { assumptions, cautions, model } = takeoff.data;
  byId("caution-first").textContent = cautions.first;
  byId("cautions").replaceChildren(make("ul", {}, ...cautions.rest.map((text) => {
      const [head, ...rest] = text.split(": ");
      return rest.length > 0 ? make("li", {}, make("strong", {}, `${head}: `), rest.join(": ")) : make("li", {}, text);
    })));
  byId("model-line").textContent = [model.project, `${model.schema}, lengths in ${model.length_unit.toLowerCase()}`]
    .filter(Boolean).join(" \u00b7 ");
  const body = make("tbody", {}, ...assumptions.map((row) => make("tr", { class: row.set_by === "default" ? "" : "stated" },
    make("th", { scope: "row" }, plainWords(row.key).replaceAll(".", ": ")), make("td", {}, row.text || "not set"),
    make("td", {}, row.set_by), make("td", {}, row.source))));
  const set = assumptions.filter((row) => row.set_by !== "default").length;
  byId("assumption-count").textContent = `${assumptions.length} values, ${set} set by the job file`;
  byId("assumptions").replaceChildren(make("table", { class: "plain" },
    make("thead", {}, make("tr", {}, ...["Value", "Set to", "By", "Source"].map((title) => make("th", { scope: "col" }, title)))),
    body));
}
