// Rows as text for other programs.

import type { Cell, Column, TableSpec } from "./columns";
import type { Units } from "./units";

/** Comma-separated rows with a head line, in the units that are shown, numbers unrounded. */
export function csvText(spec: TableSpec, rows: number[], units: Units): string {
  return lines(spec, rows, units, ",", quoted);
}

/** The same with tabs, as a spreadsheet takes it from the clipboard. */
export function tabText(spec: TableSpec, rows: number[], units: Units): string {
  return lines(spec, rows, units, "\t", (text) => guarded(text.replace(/[\t\r\n]+/g, " ")));
}

function lines(spec: TableSpec, rows: number[], units: Units, joint: string, form: (text: string) => string): string {
  const head = spec.columns.map((column) => form(column.key + units.column(column.quantity ?? "number")));
  const all = rows.map((row) => spec.columns.map((column) => {
    const cell = plain(column, row, units);
    return typeof cell === "number" ? String(cell) : form(cell);
  }));
  return [head, ...all].map((cells) => cells.join(joint)).join("\r\n") + "\r\n";
}

function plain(column: Column, row: number, units: Units): string | number {
  const value: Cell = column.value(row);
  if (value === null) return "";
  if (typeof value === "number") {
    return Number(units.plain(value, column.quantityOf?.(row) ?? column.quantity ?? "number").toPrecision(12));
  }
  return String(value);
}

function quoted(text: string): string {
  const safe = guarded(text);
  return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}

/** A name from a model must not become a formula in a spreadsheet: such text gets an apostrophe in front. */
const guarded = (text: string): string => /^[=+\-@\t\r]/.test(text) ? `'${text}` : text;
