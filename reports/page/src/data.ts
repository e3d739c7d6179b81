// The data of the page as reports/page_data.py packs them, and the few questions that every part asks of them.

export interface Words { words: string[]; rows: number[] }
export type Ring = number[];
export type Polygon = Ring[];
/** Steps of 0.1 mm: [x0, z0, x1, z1] for a rectangle, else polygons of rings. */
export type Shape = number[] | Polygon[];
export interface Prism { o: Shape; y: [number, number] }
export interface MeshCode { v: number[]; f: number[] }
export type Solid = Prism | MeshCode;
export type Maybe<T> = (T | null)[];

export interface WallTable {
  wall_id: Words; name: Words; type: Words; storey: Words; ifc_class: Words; framing_source: Words;
  framing_rule: Words; status: Words; reason: Words; rooms: Words; insulated_reason: Words; external_reason: Words;
  job_rules: Words; external: Maybe<boolean>; insulated: Maybe<boolean>; length_m: Maybe<number>;
  height_m: Maybe<number>; stud_depth_m: Maybe<number>; gross_area_m2: Maybe<number>; opening_area_m2: Maybe<number>;
  framing_fraction: Maybe<number>; cavities: Maybe<number>; insulated_area_m2: Maybe<number>;
  cavity_volume_m3: Maybe<number>; fill_volume_m3: Maybe<number>; balance_residual: Maybe<number>;
  storey_elevation_m: Maybe<number>;
}
export interface CavityTable {
  layer: number[]; number: Words; room: Words; kind: Words; method: Words; reason: Words; obstructions: Words;
  x_min_m: number[]; x_max_m: number[]; z_min_m: number[]; z_max_m: number[]; clear_width_m: number[];
  depth_m: number[]; area_m2: number[]; volume_m3: number[]; open_area_m2: number[]; mass_kg: Maybe<number>;
  shape: Shape[]; y: [number, number][];
}
export interface PageData {
  schema_version: string;
  version: string;
  model: { file: string; project: string; schema: string; length_unit: string };
  totals: Record<string, number | string | null>;
  assumptions: { key: string; text: string; source: string; set_by: string }[];
  cautions: { first: string; rest: string[] };
  conversion: { inch: number; square_foot: number; cubic_foot: number; pound: number };
  default_units: "metric" | "us";
  summary: Summary;
  walls: WallTable;
  bodies: MeshCode[][];
  layers: {
    wall: number[]; key: string[]; depth_m: Maybe<number>; rooms: Words; fill_side: Words; axes: number[][];
    body: Solid[];
  };
  cavities: CavityTable;
  members: { layer: number[]; role: Words; section: Words; source: Words; element_name: Words; solid: Solid[] };
  openings: {
    layer: number[]; filling_class: Words; filling_name: Words; evidence: Words; width_m: number[];
    height_m: number[]; recess: boolean[]; shape: Shape[];
  };
  holes: {
    cavity: number[]; hole: number[]; upper: number[]; ladder: number[]; x_m: number[]; z_m: number[];
    height_above_floor_m: number[]; diameter_m: number[];
  };
  hand_fills: { cavity: number[]; method: Words; reason: Words; volume_m3: number[]; shape: Shape[] };
  findings: {
    wall: number[]; code: Words; severity: Words; element_id: Words; element_class: Words; element_name: Words;
    message: Words; unit: Words; measured: Maybe<number>; limit: Maybe<number>;
  };
  schedule: {
    code: string[]; description: string[]; description_us: string[]; unit: string[]; net: number[]; gross: number[];
    modelled: number[]; laid_out: number[]; basis: string[]; basis_us: string[];
  };
}
export interface Summary {
  fibre: string;
  fibre_mass_kg: number | null;
  bag_mass_kg: number | null;
  bags: number | null;
  left_out: { status: string; reason: string; count: number; area_m2: number; names: string[] }[];
}

/** m in one step of the shapes. */
export const STEP = 1e-4;

export const word = (column: Words, row: number): string => column.words[column.rows[row] ?? -1] ?? "";
/** Words with underscores as people read them. */
export const plainWords = (code: string): string => code.replaceAll("_", " ");
export const isPrism = (solid: Solid): solid is Prism => "o" in solid;
export const isRectangle = (shape: Shape): shape is [number, number, number, number] =>
  shape.length === 4 && typeof shape[0] === "number";

const METHOD_WORDS: Record<string, string> = {
  blow: "blow", batt: "batt, by hand", seal: "seal", before_sheathing: "before sheathing", none: "nothing to do",
};
export const methodWords = (code: string): string => METHOD_WORDS[code] ?? plainWords(code);

/** Polygons of any shape, m: rings of [x, z] points. */
export function polygons(shape: Shape): [number, number][][][] {
  if (isRectangle(shape)) {
    const [a, b, c, d] = shape.map((value) => value * STEP) as [number, number, number, number];
    return [[[[a, b], [c, b], [c, d], [a, d]]]];
  }
  return (shape as Polygon[]).map((polygon) => polygon.map((ring) => {
    const points: [number, number][] = [];
    for (let i = 0; i + 1 < ring.length; i += 2) points.push([ring[i]! * STEP, ring[i + 1]! * STEP]);
    return points;
  }));
}

/** Box of a shape, m: x_min, z_min, x_max, z_max. */
export function extent(shape: Shape): [number, number, number, number] {
  if (isRectangle(shape)) return shape.map((value) => value * STEP) as [number, number, number, number];
  const box: [number, number, number, number] = [Infinity, Infinity, -Infinity, -Infinity];
  for (const polygon of polygons(shape)) for (const ring of polygon) for (const [x, z] of ring) {
    box[0] = Math.min(box[0], x); box[1] = Math.min(box[1], z);
    box[2] = Math.max(box[2], x); box[3] = Math.max(box[3], z);
  }
  return box;
}

/** The data with the links that rows alone do not give: what hangs on which wall, layer and cavity. */
export class Takeoff {
  readonly layersOfWall: number[][];
  readonly cavitiesOfLayer: number[][];
  readonly membersOfLayer: number[][];
  readonly openingsOfLayer: number[][];
  readonly holesOfCavity: number[][];
  readonly partsOfCavity: number[][];
  readonly storeys: string[];
  readonly wallCount: number;
  readonly cavityCount: number;

  constructor(readonly data: PageData) {
    this.wallCount = data.walls.wall_id.rows.length;
    this.cavityCount = data.cavities.layer.length;
    const layers = data.layers.wall.length;
    this.layersOfWall = gathered(data.layers.wall, this.wallCount);
    this.cavitiesOfLayer = gathered(data.cavities.layer, layers);
    this.membersOfLayer = gathered(data.members.layer, layers);
    this.openingsOfLayer = gathered(data.openings.layer, layers);
    this.holesOfCavity = gathered(data.holes.cavity, this.cavityCount);
    this.partsOfCavity = gathered(data.hand_fills.cavity, this.cavityCount);
    const seen = new Set<string>();
    for (let wall = 0; wall < this.wallCount; wall++) seen.add(word(data.walls.storey, wall));
    this.storeys = [...seen];
  }

  wallOf(cavity: number): number {
    return this.data.layers.wall[this.data.cavities.layer[cavity]!]!;
  }

  cavitiesOfWall(wall: number): number[] {
    return this.layersOfWall[wall]!.flatMap((layer) => this.cavitiesOfLayer[layer]!);
  }

  /** A wall's name, or its id where it has none. */
  wallName(wall: number): string {
    return word(this.data.walls.name, wall) || word(this.data.walls.wall_id, wall);
  }

  cavityId(cavity: number): string {
    return `${this.data.layers.key[this.data.cavities.layer[cavity]!]}/${word(this.data.cavities.number, cavity)}`;
  }
}

function gathered(owners: number[], count: number): number[][] {
  const groups: number[][] = Array.from({ length: count }, () => []);
  owners.forEach((owner, row) => groups[owner]?.push(row));
  return groups;
}

export function readData(): PageData {
  const element = document.getElementById("data");
  if (element === null) throw new Error("the page holds no data");
  return JSON.parse(element.textContent ?? "") as PageData;
}
