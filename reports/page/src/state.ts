// What the reader has chosen, in one place; parts of the page listen to the topics they show.

import { type Takeoff, word } from "./data";
import { Units } from "./units";

export type Topic = "selection" | "filter" | "units" | "theme" | "colour" | "view";
export type Facet = "type" | "storey" | "room" | "method";
export type ColourBy = "method" | "kind" | "depth" | "room";

export class State {
  wall = -1;
  cavity = -1;
  /** Stud layer whose elevation is shown. */
  layer = -1;
  colour: ColourBy = "method";
  readonly hidden: Record<Facet, Set<string>> = {
    type: new Set(), storey: new Set(), room: new Set(), method: new Set(),
  };
  readonly units: Units;
  private readonly wallShown: Uint8Array;
  private readonly cavityShown: Uint8Array;
  private readonly listeners = new Map<Topic, (() => void)[]>();

  constructor(readonly takeoff: Takeoff) {
    this.units = new Units(takeoff.data.conversion, takeoff.data.default_units);
    this.wallShown = new Uint8Array(takeoff.wallCount).fill(1);
    this.cavityShown = new Uint8Array(takeoff.cavityCount).fill(1);
  }

  on(topics: Topic[], listener: () => void): void {
    for (const topic of topics) this.listeners.set(topic, [...(this.listeners.get(topic) ?? []), listener]);
  }

  say(topic: Topic): void {
    for (const listener of this.listeners.get(topic) ?? []) listener();
  }

  selectWall(wall: number): void {
    if (wall === this.wall && this.cavity === -1) return;
    if (wall !== this.wall) this.layer = this.takeoff.layersOfWall[wall]?.[0] ?? -1;
    this.wall = wall;
    this.cavity = -1;
    this.say("selection");
  }

  selectCavity(cavity: number): void {
    if (cavity === this.cavity) return;
    this.cavity = cavity;
    this.wall = this.takeoff.wallOf(cavity);
    this.layer = this.takeoff.data.cavities.layer[cavity]!;
    this.say("selection");
  }

  selectLayer(layer: number): void {
    this.layer = layer;
    this.wall = this.takeoff.data.layers.wall[layer]!;
    this.cavity = -1;
    this.say("selection");
  }

  clear(): void {
    if (this.wall === -1) return;
    this.wall = this.cavity = this.layer = -1;
    this.say("selection");
  }

  isWallShown(wall: number): boolean { return this.wallShown[wall] === 1; }
  isCavityShown(cavity: number): boolean { return this.cavityShown[cavity] === 1; }

  setHidden(facet: Facet, names: Iterable<string>, hidden: boolean): void {
    for (const name of names) hidden ? this.hidden[facet].add(name) : this.hidden[facet].delete(name);
    this.refilter();
    this.say("filter");
  }

  /** A cavity is shown unless its wall's type or storey, its room or its method is hidden. A wall is shown unless its
   * type or storey is hidden or it has cavities and none of them is shown. */
  private refilter(): void {
    const { takeoff, hidden } = this;
    const { walls, cavities } = takeoff.data;
    for (let wall = 0; wall < takeoff.wallCount; wall++) {
      const shown = !hidden.type.has(word(walls.type, wall)) && !hidden.storey.has(word(walls.storey, wall));
      const own = takeoff.cavitiesOfWall(wall);
      let any = own.length === 0 && hidden.method.size + hidden.room.size === 0;
      for (const cavity of own) {
        const seen = shown && !hidden.room.has(word(cavities.room, cavity))
          && !hidden.method.has(word(cavities.method, cavity));
        this.cavityShown[cavity] = seen ? 1 : 0;
        any ||= seen;
      }
      this.wallShown[wall] = shown && any ? 1 : 0;
    }
  }
}
