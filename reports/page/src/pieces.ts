// Many pieces drawn at once: boxes as instances, other solids and edges as merged triangles and lines.

import {
  BufferAttribute, BufferGeometry, BoxGeometry, Color, InstancedBufferAttribute, InstancedMesh, LineSegments, Mesh,
  type Material, type Object3D,
} from "three";
import type { Axes } from "./axes";

export interface Pieces {
  readonly object: Object3D;
  show(isShown: (id: number) => boolean): void;
  paint(colourOf: (id: number) => string): void;
}

/** Boxes in wall axes; `ids` name the pieces. */
export class Boxes implements Pieces {
  readonly object: InstancedMesh;
  readonly ids: number[] = [];
  private readonly matrices: number[] = [];
  private colours: Float32Array = new Float32Array(0);

  constructor(material: Material) {
    this.object = new InstancedMesh(new BoxGeometry(1, 1, 1).translate(0.5, 0.5, 0.5), material, 0);
    this.object.frustumCulled = false;
  }

  /** A box from (x0, y0, z0) to (x1, y1, z1), m, in the axes of a flat wall. */
  add(id: number, box: [number, number, number, number, number, number], axes: Axes): void {
    const [x0, y0, z0, x1, y1, z1] = box;
    const [dx, dy, dz] = [x1 - x0, y1 - y0, z1 - z0];
    const corner = axes.world(x0, y0, z0);
    this.ids.push(id);
    this.matrices.push(
      axes.x[0] * dx, axes.x[1] * dx, axes.x[2] * dx, 0, axes.y[0] * dy, axes.y[1] * dy, axes.y[2] * dy, 0,
      axes.z[0] * dz, axes.z[1] * dz, axes.z[2] * dz, 0, ...corner, 1,
    );
  }

  /** Call once when all are added. */
  close(): this {
    this.object.instanceMatrix = new InstancedBufferAttribute(new Float32Array(this.matrices), 16);
    this.object.instanceColor = new InstancedBufferAttribute(new Float32Array(3 * this.ids.length).fill(1), 3);
    this.colours = new Float32Array(3 * this.ids.length).fill(1);
    this.object.count = this.ids.length;
    this.object.visible = this.ids.length > 0;
    return this;
  }

  show(isShown: (id: number) => boolean): void {
    const matrix = this.object.instanceMatrix.array;
    const colour = this.object.instanceColor!.array;
    let count = 0;
    this.ids.forEach((id, row) => {
      if (!isShown(id)) return;
      for (let i = 0; i < 16; i++) matrix[16 * count + i] = this.matrices[16 * row + i]!;
      for (let i = 0; i < 3; i++) colour[3 * count + i] = this.colours[3 * row + i]!;
      count += 1;
    });
    this.object.count = count;
    this.object.visible = count > 0;
    this.object.instanceMatrix.needsUpdate = true;
    this.object.instanceColor!.needsUpdate = true;
  }

  paint(colourOf: (id: number) => string): void {
    const colours = colourCache();
    this.ids.forEach((id, row) => colours(colourOf(id)).toArray(this.colours, 3 * row));
  }
}

/** Triangles or edges of many pieces; `starts` has one more entry than `ids`. */
export class Merged implements Pieces {
  readonly object: Mesh | LineSegments;
  private readonly geometry = new BufferGeometry();

  constructor(
    kind: "triangles" | "edges", corners: Float32Array, readonly ids: number[], readonly starts: number[],
    material: Material, painted = false,
  ) {
    this.geometry.setAttribute("position", new BufferAttribute(corners, 3));
    if (kind === "triangles") this.geometry.computeVertexNormals();
    if (painted) {
      this.geometry.setAttribute("color", new BufferAttribute(new Float32Array(corners.length).fill(1), 3));
    }
    this.object = kind === "triangles" ? new Mesh(this.geometry, material) : new LineSegments(this.geometry, material);
    this.object.frustumCulled = false;
    this.show(() => true);
  }

  show(isShown: (id: number) => boolean): void {
    const index: number[] = [];
    this.ids.forEach((id, row) => {
      if (!isShown(id)) return;
      for (let corner = this.starts[row]!; corner < this.starts[row + 1]!; corner++) index.push(corner);
    });
    this.geometry.setIndex(new BufferAttribute(new Uint32Array(index), 1));
    this.object.visible = index.length > 0;
  }

  paint(colourOf: (id: number) => string): void {
    const attribute = this.geometry.getAttribute("color") as BufferAttribute | undefined;
    if (attribute === undefined) return;
    const colours = colourCache();
    this.ids.forEach((id, row) => {
      const { r, g, b } = colours(colourOf(id));
      for (let corner = this.starts[row]!; corner < this.starts[row + 1]!; corner++) attribute.setXYZ(corner, r, g, b);
    });
    attribute.needsUpdate = true;
  }
}

function colourCache(): (text: string) => Color {
  const known = new Map<string, Color>();
  return (text) => {
    const colour = known.get(text) ?? new Color(text);
    known.set(text, colour);
    return colour;
  };
}
