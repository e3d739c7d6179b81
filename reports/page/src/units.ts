// SI numbers as people read them; factors come with the data from takeoff/units.py, rounding follows it too.

import type { PageData } from "./data";

export type System = "metric" | "us";
export type Quantity = "length" | "area" | "volume" | "mass" | "count" | "share" | "number";

export class Units {
  constructor(private readonly factors: PageData["conversion"], public system: System) {}

  /** A number with its unit. */
  text(value: number | null | undefined, quantity: Quantity): string {
    if (value === null || value === undefined) return "";
    const unit = this.unit(quantity);
    return unit ? `${this.bare(value, quantity)} ${unit}` : this.bare(value, quantity);
  }

  /** The unit behind `bare`; empty where the text of the number says it itself. */
  unit(quantity: Quantity): string {
    const metric = this.system === "metric";
    switch (quantity) {
      case "area": return metric ? "m²" : "ft²";
      case "volume": return metric ? "m³" : "ft³";
      case "mass": return metric ? "kg" : "lb";
      default: return "";
    }
  }

  /** The unit that numbers of `plain` have, by name. */
  name(quantity: Quantity): string {
    return quantity === "length" ? (this.system === "metric" ? "m" : "in") : this.unit(quantity);
  }

  bare(value: number, quantity: Quantity): string {
    const metric = this.system === "metric";
    switch (quantity) {
      case "length": return metric ? metricLength(value) : this.feetAndInches(value);
      case "area": return metric ? grouped(value, 2) : grouped(value / this.factors.square_foot, 1);
      case "volume": return metric ? grouped(value, 3) : grouped(value / this.factors.cubic_foot, 2);
      case "mass": return grouped(metric ? value : value / this.factors.pound, 1);
      case "count": return grouped(value, 0);
      case "share": return `${fixed(100 * value, 1)} %`;
      case "number": return String(value);
    }
  }

  /** The number alone in the unit that `column` names, for files. */
  plain(value: number, quantity: Quantity): number {
    if (this.system === "metric") return value;
    const { inch, square_foot, cubic_foot, pound } = this.factors;
    const factor = { length: inch, area: square_foot, volume: cubic_foot, mass: pound, count: 1, share: 1, number: 1 };
    return value / factor[quantity];
  }

  /** Suffix of a file's column, such as `_m2`. */
  column(quantity: Quantity): string {
    const metric = this.system === "metric";
    switch (quantity) {
      case "length": return metric ? "_m" : "_in";
      case "area": return metric ? "_m2" : "_ft2";
      case "volume": return metric ? "_m3" : "_ft3";
      case "mass": return metric ? "_kg" : "_lb";
      default: return "";
    }
  }

  private feetAndInches(value: number): string {
    const parts = Math.round(Math.abs(value) / this.factors.inch * 16);
    const feet = Math.floor(parts / 192);
    const inches = Math.floor(parts % 192 / 16);
    let [top, bottom] = [parts % 16, 16];
    while (top > 0 && top % 2 === 0) { top /= 2; bottom /= 2; }
    const fraction = top > 0 ? `${top}/${bottom}` : "";
    const whole = inches > 0 || fraction === "" || feet > 0 ? String(inches) : "";
    const small = `${whole}${whole && fraction ? " " : ""}${fraction}"`;
    const sign = value < 0 && parts > 0 ? "-" : "";
    return feet > 0 ? `${sign}${feet}'-${small}` : `${sign}${small}`;
  }
}

const metricLength = (value: number): string =>
  Math.abs(value) < 0.9995 ? `${fixed(value * 1000, 0)} mm` : `${fixed(value, 3)} m`;

function fixed(value: number, digits: number): string {
  const text = value.toFixed(digits);
  return Number(text) === 0 ? text.replace("-", "") : text;
}

/** With a thin space between thousands from 10,000 on. */
function grouped(value: number, digits: number): string {
  const [whole, part] = fixed(value, digits).split(".") as [string, string?];
  const spaced = whole.replace("-", "").length > 4 ? whole.replace(/\B(?=(\d{3})+$)/g, "\u2009") : whole;
  return part ? `${spaced}.${part}` : spaced;
}
