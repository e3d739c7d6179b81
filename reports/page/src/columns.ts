// What the four tables hold: columns, what they add up to, and what a row stands for.

import { type Takeoff, type Words, methodWords, plainWords, word } from "./data";
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

/** Walls that a filter still lists one by one. */
const MOST_CHOICES = 40;
const NOT_CAVITIES = new Set(["sliver", "opening_gap"]);

export function tableSpecs(state: State): TableSpec[] {
  return [walls(state), cavities(state), scheduleOf(state), findings(state)];
}

const texts = (column: Words) => (row: number): string => word(column, row);

/** A column of words. */
const written = (key: string, title: string, value: Column["value"], width: number, more: Partial<Column> = {}): Column =>
  ({ key, title, value, width, ...more });

/** A column of words of which there are few. */
const chosen = (key: string, title: string, value: Column["value"], width: number, shown?: (text: string) => string): Column =>
  ({ key, title, value, width, choices: true, ...(shown ? { shown } : {}) });

/** A column of numbers; `total` where they are summed below. */
const measured = (
  key: string, title: string, quantity: Quantity, value: (row: number) => number | null | undefined, width: number, total = false,
): Column => ({ key, title, quantity, value: (row) => value(row) ?? null, width, total });

/** Pixels for the longest of some names, within reason. */
function nameWidth(takeoff: Takeoff): number {
  let longest = 0;
  for (let wall = 0; wall < takeoff.wallCount; wall++) longest = Math.max(longest, takeoff.wallName(wall).length);
  return Math.min(360, Math.max(150, Math.round(7.8 * longest) + 30));
}

function walls(state: State): TableSpec {
  const { takeoff } = state;
  const { walls: table } = takeoff.data;
  const holes = (wall: number): number | null => takeoff.layersOfWall[wall]!.length === 0 ? null
    : takeoff.cavitiesOfWall(wall).reduce((sum, cavity) => sum + takeoff.holesOfCavity[cavity]!.length, 0);
  return {
    id: "walls", title: "Walls", noun: ["wall", "walls"], count: takeoff.wallCount, rowHeight: 36,
    isShown: (row) => state.isWallShown(row),
    counts: () => true,
    note: "",
    select: (row) => state.selectWall(row),
    selected: () => state.wall,
    columns: [
      written("name", "Wall", (row) => takeoff.wallName(row), nameWidth(takeoff)),
      chosen("type", "Type", texts(table.type), 190),
      chosen("storey", "Storey", texts(table.storey), 120),
      chosen("status", "Status", texts(table.status), 100, plainWords),
      chosen("external", "Outside", (row) => table.external[row] ?? null, 90),
      chosen("insulated", "Insulated", (row) => table.insulated[row] ?? null, 100),
      measured("length", "Length", "length", (row) => table.length_m[row], 110, true),
      measured("height", "Height", "length", (row) => table.height_m[row], 100),
      measured("insulated_area", "Insulated area", "area", (row) => table.insulated_area_m2[row], 130, true),
      measured("cavities", "Cavities", "count", (row) => table.cavities[row], 95, true),
      measured("fill_volume", "Fill volume", "volume", (row) => table.fill_volume_m3[row], 120, true),
      measured("holes", "Holes", "count", holes, 80, true),
      measured("framing_fraction", "Framing", "share", (row) => table.framing_fraction[row], 95),
      chosen("framing_source", "Frame", texts(table.framing_source), 100, plainWords),
      written("rooms", "Rooms", texts(table.rooms), 240),
      written("reason", "Why left out", texts(table.reason), 360),
      written("wall_id", "GlobalId", texts(table.wall_id), 220),
    ],
  };
}

function cavities(state: State): TableSpec {
  const { takeoff } = state;
  const { cavities: table, walls: wallTable } = takeoff.data;
  const nameOf = (row: number): string => takeoff.wallName(takeoff.wallOf(row));
  return {
    id: "cavities", title: "Cavities", noun: ["cavity", "cavities"], count: takeoff.cavityCount, rowHeight: 36,
    isShown: (row) => state.isCavityShown(row),
    counts: (row) => !NOT_CAVITIES.has(word(table.kind, row)),
    note: "Slivers and opening gaps are listed, but count in no sum.",
    select: (row) => state.selectCavity(row),
    selected: () => state.cavity,
    columns: [
      written("number", "No.", texts(table.number), 70),
      written("wall", "Wall", nameOf, nameWidth(takeoff), { choices: takeoff.wallCount <= MOST_CHOICES }),
      chosen("storey", "Storey", (row) => word(wallTable.storey, takeoff.wallOf(row)), 120),
      chosen("room", "Room", texts(table.room), 170),
      chosen("kind", "Kind", texts(table.kind), 195, plainWords),
      chosen("method", "Method", texts(table.method), 155, methodWords),
      measured("width", "Width", "length", (row) => table.x_max_m[row]! - table.x_min_m[row]!, 100),
      measured("height", "Height", "length", (row) => table.z_max_m[row]! - table.z_min_m[row]!, 100),
      measured("depth", "Depth", "length", (row) => table.depth_m[row], 90),
      measured("clear_width", "Clear width", "length", (row) => table.clear_width_m[row], 110),
      measured("area", "Area", "area", (row) => table.area_m2[row], 100, true),
      measured("volume", "Volume", "volume", (row) => table.volume_m3[row], 110, true),
      measured("fibre_mass", "Fibre", "mass", (row) => table.mass_kg[row], 95, true),
      measured("holes", "Holes", "count", (row) => takeoff.holesOfCavity[row]!.length, 80, true),
      written("reason", "Why so", texts(table.reason), 340),
      written("cavity_id", "Id", (row) => takeoff.cavityId(row), 260),
    ],
  };
}

function findings(state: State): TableSpec {
  const { takeoff } = state;
  const { findings: table, walls: wallTable } = takeoff.data;
  let selected = -1;
  const ofWall = (row: number, text: (wall: number) => string): string =>
    table.wall[row]! < 0 ? "" : text(table.wall[row]!);
  return {
    id: "findings", title: "Findings", noun: ["finding", "findings"], count: table.wall.length, rowHeight: 80,
    isShown: (row) => table.wall[row]! < 0 || state.isWallShown(table.wall[row]!),
    counts: () => true,
    note: "",
    detail: texts(table.message),
    select: (row) => {
      selected = row;
      const wall = table.wall[row]!;
      if (wall >= 0) state.selectWall(wall);
    },
    selected: () => selected,
    columns: [
      chosen("severity", "Severity", texts(table.severity), 105),
      chosen("code", "Code", texts(table.code), 200),
      written("message", "What was found", texts(table.message), 560),
      written("wall", "Wall", (row) => ofWall(row, (wall) => takeoff.wallName(wall)), 220),
      chosen("storey", "Storey", (row) => ofWall(row, (wall) => word(wallTable.storey, wall)), 120),
      measured("measured", "Measured", "number", (row) => table.measured[row], 105),
      measured("limit", "Limit", "number", (row) => table.limit[row], 95),
      written("unit", "Unit", texts(table.unit), 70),
      written("element", "Element", (row) =>
        [word(table.element_class, row), word(table.element_name, row)].filter(Boolean).join(" "), 220),
      written("element_id", "Element id", texts(table.element_id), 220),
    ],
  };
}

const QUANTITY_OF: Record<string, Quantity> = { kg: "mass", m2: "area", m: "length", m3: "volume", piece: "count" };

/** The material schedule of the whole job, before any price. */
function scheduleOf(state: State): TableSpec {
  const { schedule } = state.takeoff.data;
  let selected = -1;
  const inUs = (): boolean => state.units.system === "us";
  const description = (row: number): string => (inUs() ? schedule.description_us : schedule.description)[row]!;
  const basis = (row: number): string => (inUs() ? schedule.basis_us : schedule.basis)[row]!;
  const quantityOf = (row: number): Quantity => QUANTITY_OF[schedule.unit[row] ?? ""] ?? "number";
  const suffix = (row: number): string => quantityOf(row) === "count" ? "pieces" : "";
  const amount = (key: string, title: string, values: number[]): Column =>
    ({ ...measured(key, title, "number", (row) => values[row], 135), quantityOf, suffix });
  return {
    id: "schedule", title: "Schedule", noun: ["line", "lines"], count: schedule.code.length, rowHeight: 64,
    isShown: () => true,
    counts: () => true,
    note: "For the whole job: filters of the view change nothing here. No prices and no packages; a quote has them.",
    detail: basis,
    select: (row) => { selected = row; },
    selected: () => selected,
    columns: [
      written("description", "Material", description, 210),
      amount("net", "Net", schedule.net),
      amount("gross", "With waste", schedule.gross),
      measured("modelled", "Frames modelled", "share", (row) => schedule.modelled[row], 150),
      measured("laid_out", "Frames laid out", "share", (row) => schedule.laid_out[row], 145),
      written("basis", "From", basis, 560),
      written("unit", "Unit", (row) => state.units.name(quantityOf(row)) || suffix(row), 80),
      written("code", "Code", (row) => schedule.code[row]!, 130),
    ],
  };
}
