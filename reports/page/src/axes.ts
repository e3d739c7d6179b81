// Wall axes in the world: x to the right, y into the wall, z up; a curved wall's x runs along its arc.

export type Point = [number, number, number];

/** Wall axes as takeoff.json gives them, less the common `centre` so that single precision is enough for drawing. */
export class Axes {
  readonly curved: boolean;
  readonly x: Point;
  readonly y: Point;
  readonly z: Point;
  readonly origin: Point;
  private readonly arcCentre: Point = [0, 0, 0];
  private readonly start: [number, number] = [1, 0];
  private readonly along: [number, number] = [0, 1];
  private readonly radius: number = 1;
  private readonly face: number = 1;
  private readonly sign: number = 1;

  constructor(numbers: number[], centre: Point) {
    const point = (at: number): Point => [numbers[at]!, numbers[at + 1]!, numbers[at + 2]!];
    const place = (at: number): Point => {
      const [x, y, z] = point(at);
      return [x - centre[0], y - centre[1], z - centre[2]];
    };
    this.origin = place(0);
    [this.x, this.y, this.z] = [point(3), point(6), point(9)];
    this.curved = numbers.length > 12;
    if (this.curved) {
      this.arcCentre = place(12);
      this.radius = numbers[15]!;
      this.face = numbers[16]!;
      this.start = [(this.origin[0] - this.arcCentre[0]) / this.face, (this.origin[1] - this.arcCentre[1]) / this.face];
      this.sign = Math.sign(this.y[0] * this.start[0] + this.y[1] * this.start[1]) || 1;
      this.along = [this.sign * this.start[1], -this.sign * this.start[0]];
    }
  }

  world(x: number, y: number, z: number): Point {
    if (!this.curved) {
      return [0, 1, 2].map((i) =>
        this.origin[i]! + x * this.x[i]! + y * this.y[i]! + z * this.z[i]!) as Point;
    }
    const angle = x / this.radius;
    const reach = this.face + this.sign * y;
    const [ahead, aside] = [reach * Math.cos(angle), reach * Math.sin(angle)];
    return [
      this.arcCentre[0] + ahead * this.start[0] + aside * this.along[0],
      this.arcCentre[1] + ahead * this.start[1] + aside * this.along[1],
      this.arcCentre[2] + z,
    ];
  }

  /** A world direction or, with `place`, a world point in the axes of a flat wall. */
  local(point: Point, place: boolean): Point {
    const from = place ? point.map((value, i) => value - this.origin[i]!) as Point : point;
    const dot = (axis: Point): number => from[0] * axis[0] + from[1] * axis[1] + from[2] * axis[2];
    return [dot(this.x), dot(this.y), dot(this.z)];
  }

  /** m along x within which the arc leaves its chord by 4 mm. */
  get chord(): number {
    return this.curved ? Math.sqrt(8 * this.radius * 0.004) : Infinity;
  }
}
