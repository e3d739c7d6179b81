// What the four tables hold: columns, what they add up to, and what a row stands for.

import { type Words, methodWords, plainWords, word } from "./data";
import type { State } from "./state";
import type { Quantity } from "./units";

export type Cell = string | number | boolean | null;
export interface Column {
  /** Name in files, without unit. */
  key: string;
  title: string;
  value: (row: number) => Cell;
  quantity?: Quantity;
  /** The quantity of one row, where rows differ; `suffix` is written behind it. */
  quantityOf?: (row: number) => Quantity;
  suffix?: (row: number) => string;
  /** Summed below the table. */
  total?: boolean;
  /** Few distinct values: filtered by choice. */
  choices?: boolean;
  /** How a text is shown, where that is not the text. */
  shown?: (text: string) => string;
  width: number;
}
export interface TableSpec {
  id: string;
  title: string;
  noun: [string, string];
  count: number;
  columns: Column[];
  rowHeight: number;
  isShown: (row: number) => boolean;
  /** Whether a row counts in the sums. */
  counts: (row: number) => boolean;
  note: string;
  /** What is said of the selected row in full below the table. */
  detail?: (row: number) => string;
  select: (row: number) => void;
  selected: () => number;
}

const NOT_CAVITIES = new Set(["sliver", "opening_gap"]);

export function tableSpecs(state: State): TableSpec[] {
  return [walls(state), cavities(state), scheduleOf(state), findings(state)];
}

const texts = (column: Words) => (row: number): string => word(column, row);

function walls(state: State): TableSpec {
  const { takeoff } = state;
  const { walls: table } = takeoff.data;
  const holes = (wall: number): number =>
    takeoff.cavitiesOfWall(wall).reduce((sum, cavity) => sum + takeoff.holesOfCavity[cavity]!.length, 0);
  return {
    id: "walls", title: "Walls", noun: ["wall", "walls"], count: takeoff.wallCount, rowHeight: 36,
    isShown: (row) => state.isWallShown(row),
    counts: () => true,
    note: "",
    select: (row) => state.selectWall(row),
    selected: () => state.wall,
    columns: [
      { key: "name", title: "Wall", value: (row) => takeoff.wallName(row), width: 230 },
      { key: "type", title: "Type", value: texts(table.type), choices: true, width: 190 },
      { key: "storey", title: "Storey", value: texts(table.storey), choices: true, width: 120 },
      { key: "status", title: "Status", value: texts(table.status), choices: true, shown: plainWords, width: 100 },
      { key: "external", title: "Outside", value: (row) => table.external[row] ?? null, choices: true, width: 90 },
      { key: "insulated", title: "Insulated", value: (row) => table.insulated[row] ?? null, choices: true, width: 100 },
      { key: "length", title: "Length", value: (row) => table.length_m[row] ?? null, quantity: "length", total: true, width: 110 },
      { key: "height", title: "Height", value: (row) => table.height_m[row] ?? null, quantity: "length", width: 100 },
      { key: "insulated_area", title: "Insulated area", value: (row) => table.insulated_area_m2[row] ?? null, quantity: "area", total: true, width: 130 },
      { key: "cavities", title: "Cavities", value: (row) => table.cavities[row] ?? null, quantity: "count", total: true, width: 95 },
      { key: "fill_volume", title: "Fill volume", value: (row) => table.fill_volume_m3[row] ?? null, quantity: "volume", total: true, width: 120 },
      { key: "holes", title: "Holes", value: (row) => takeoff.layersOfWall[row]!.length > 0 ? holes(row) : null, quantity: "count", total: true, width: 80 },
      { key: "framing_fraction", title: "Framing", value: (row) => table.framing_fraction[row] ?? null, quantity: "share", width: 95 },
      { key: "framing_source", title: "Frame", value: texts(table.framing_source), choices: true, shown: plainWords, width: 100 },
      { key: "rooms", title: "Rooms", value: texts(table.rooms), width: 200 },
      { key: "reason", title: "Why left out", value: texts(table.reason), width: 320 },
    ],
  };
}

function cavities(state: State): TableSpec {
  const { takeoff } = state;
  const { cavities: table, walls: wallTable } = takeoff.data;
  return {
    id: "cavities", title: "Cavities", noun: ["cavity", "cavities"], count: takeoff.cavityCount, rowHeight: 36,
    isShown: (row) => state.isCavityShown(row),
    counts: (row) => !NOT_CAVITIES.has(word(table.kind, row)),
    note: "Slivers and opening gaps are listed, but count in no sum.",
    select: (row) => state.selectCavity(row),
    selected: () => state.cavity,
    columns: [
      { key: "number", title: "No.", value: texts(table.number), width: 70 },
      { key: "wall", title: "Wall", value: (row) => takeoff.wallName(takeoff.wallOf(row)), choices: takeoff.wallCount <= 40, width: 220 },
      { key: "storey", title: "Storey", value: (row) => word(wallTable.storey, takeoff.wallOf(row)), choices: true, width: 120 },
      { key: "room", title: "Room", value: texts(table.room), choices: true, width: 170 },
      { key: "kind", title: "Kind", value: texts(table.kind), choices: true, shown: plainWords, width: 195 },
      { key: "method", title: "Method", value: texts(table.method), choices: true, shown: methodWords, width: 155 },
      { key: "width", title: "Width", value: (row) => table.x_max_m[row]! - table.x_min_m[row]!, quantity: "length", width: 100 },
      { key: "height", title: "Height", value: (row) => table.z_max_m[row]! - table.z_min_m[row]!, quantity: "length", width: 100 },
      { key: "depth", title: "Depth", value: (row) => table.depth_m[row]!, quantity: "length", width: 90 },
      { key: "clear_width", title: "Clear width", value: (row) => table.clear_width_m[row]!, quantity: "length", width: 110 },
      { key: "area", title: "Area", value: (row) => table.area_m2[row]!, quantity: "area", total: true, width: 100 },
      { key: "volume", title: "Volume", value: (row) => table.volume_m3[row]!, quantity: "volume", total: true, width: 110 },
      { key: "fibre_mass", title: "Fibre", value: (row) => table.mass_kg[row] ?? null, quantity: "mass", total: true, width: 95 },
      { key: "holes", title: "Holes", value: (row) => takeoff.holesOfCavity[row]!.length, quantity: "count", total: true, width: 80 },
      { key: "reason", title: "Why so", value: texts(table.reason), width: 340 },
      { key: "cavity_id", title: "Id", value: (row) => takeoff.cavityId(row), width: 240 },
    ],
  };
}

function findings(state: State): TableSpec {
  const { takeoff } = state;
  const { findings: table, walls: wallTable } = takeoff.data;
  let chosen = -1;
  return {
    id: "findings", title: "Findings", noun: ["finding", "findings"], count: table.wall.length, rowHeight: 80,
    isShown: (row) => table.wall[row]! < 0 || state.isWallShown(table.wall[row]!),
    counts: () => true,
    note: "",
    select: (row) => {
      chosen = row;
      const wall = table.wall[row]!;
      if (wall >= 0) state.selectWall(wall);
    },
    selected: () => chosen,
    detail: texts(table.message),
    columns: [
      { key: "severity", title: "Severity", value: texts(table.severity), choices: true, width: 105 },
      { key: "code", title: "Code", value: texts(table.code), choices: true, width: 200 },
      { key: "message", title: "What was found", value: texts(table.message), width: 560 },
      { key: "wall", title: "Wall", value: (row) => table.wall[row]! < 0 ? "" : takeoff.wallName(table.wall[row]!), width: 220 },
      { key: "storey", title: "Storey", value: (row) => table.wall[row]! < 0 ? "" : word(wallTable.storey, table.wall[row]!), choices: true, width: 120 },
      { key: "measured", title: "Measured", value: (row) => table.measured[row] ?? null, quantity: "number", width: 105 },
      { key: "limit", title: "Limit", value: (row) => table.limit[row] ?? null, quantity: "number", width: 95 },
      { key: "unit", title: "Unit", value: texts(table.unit), width: 70 },
      { key: "element", title: "Element", value: (row) => [word(table.element_class, row), word(table.element_name, row)].filter(Boolean).join(" "), width: 220 },
      { key: "element_id", title: "Element id", value: texts(table.element_id), width: 200 },
    ],
  };
}

const QUANTITY_OF: Record<string, Quantity> = { kg: "mass", m2: "area", m: "length", m3: "volume", piece: "count" };

/** The material schedule of the whole job, before any price. */
function scheduleOf(state: State): TableSpec {
  const { schedule } = state.takeoff.data;
  let chosen = -1;
  const amount = (row: number): Quantity => QUANTITY_OF[schedule.unit[row] ?? ""] ?? "number";
  const rounded = (row: number): string => amount(row) === "count" ? "pieces" : "";
  const packaged = schedule.packages.some((count) => count !== null);
  return {
    id: "schedule", title: "Schedule", noun: ["line", "lines"], count: schedule.code.length, rowHeight: 64,
    isShown: () => true,
    counts: () => true,
    note: "For the whole job: filters of the view change nothing here. No prices and no packages; a quote has them.",
    select: (row) => { chosen = row; },
    selected: () => chosen,
    detail: (row) => schedule.basis[row]!,
    columns: [
      { key: "description", title: "Material", value: (row) => schedule.description[row]!, width: 210 },
      { key: "net", title: "Net", value: (row) => schedule.net[row]!, quantity: "number", quantityOf: amount, suffix: rounded, width: 130 },
      { key: "gross", title: "With waste", value: (row) => schedule.gross[row]!, quantity: "number", quantityOf: amount, suffix: rounded, width: 140 },
      ...(packaged ? [
        { key: "packages", title: "Packages", value: (row: number) => schedule.packages[row] ?? null, quantity: "count" as const, width: 110 },
        { key: "package", title: "Package", value: (row: number) => schedule.package[row]!, width: 110 },
      ] : []),
      { key: "modelled", title: "Frames modelled", value: (row) => schedule.modelled[row]!, quantity: "share", width: 145 },
      { key: "laid_out", title: "Frames laid out", value: (row) => schedule.laid_out[row]!, quantity: "share", width: 140 },
      { key: "basis", title: "From", value: (row) => schedule.basis[row]!, width: 560 },
      { key: "unit", title: "Unit", value: (row) => state.units.name(amount(row)) || rounded(row), width: 80 },
      { key: "code", title: "Code", value: (row) => schedule.code[row]!, width: 130 },
    ],
  };
}
