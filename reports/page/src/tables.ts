// A table that draws only the rows in sight: sort, search, filter by column, totals, copy, save, and the selection.

import type { Cell, Column, TableSpec } from "./columns";
import { announce, copyText, make, saveFile } from "./dom";
import type { State } from "./state";
import { csvText, tabText } from "./text_files";

const SPARE_ROWS = 8;

export class DataTable {
  readonly panel: HTMLElement;
  /** Rows that pass all filters, in the order shown. */
  rows: number[] = [];
  private readonly words = new Map<Column, string[]>();
  private readonly picked = new Map<Column, string>();
  private search = "";
  private sorted: { column: Column; down: boolean } | null = null;
  private readonly scroller: HTMLElement;
  private readonly table: HTMLTableElement;
  private readonly head: HTMLTableRowElement;
  private readonly filterRow: HTMLTableRowElement;
  private readonly body: HTMLTableSectionElement;
  private readonly foot: HTMLTableRowElement;
  private readonly tally: HTMLElement;
  private readonly detail: HTMLElement;
  private active = 0;

  constructor(private readonly spec: TableSpec, private readonly state: State) {
    this.head = make("tr", { "aria-rowindex": "1" });
    this.filterRow = make("tr", { class: "filters", hidden: true });
    this.body = make("tbody");
    this.foot = make("tr", { class: "totals" });
    const label = `${spec.title} of the takeoff`;
    this.table = make("table", { role: "grid", "aria-label": label },
      make("colgroup", {}, ...spec.columns.map((column) => columnWidth(column))),
      make("thead", {}, this.head, this.filterRow), this.body, make("tfoot", {}, this.foot));
    this.table.style.width = `${spec.columns.reduce((sum, column) => sum + column.width, 0)}px`;
    this.scroller = make("div", { class: "scroller" }, this.table);
    this.tally = make("p", { class: "tally", role: "status" });
    this.detail = make("p", { class: "detail", role: "status" });
    this.panel = make("div", { class: "table-panel" }, this.toolbar(), this.scroller, this.detail, this.tally);
    this.scroller.addEventListener("scroll", () => this.drawRows());
    this.table.addEventListener("keydown", (event) => this.key(event));
    this.body.addEventListener("click", (event) => this.click(event));
    this.refresh();
  }

  /** Filters and sorts anew and draws; the words of cells are made again where units have changed. */
  refresh(units = false): void {
    if (units) this.words.clear();
    const { spec } = this;
    const needle = this.search.trim().toLowerCase();
    this.rows = [];
    for (let row = 0; row < spec.count; row++) {
      if (spec.isShown(row) && this.passes(row, needle)) this.rows.push(row);
    }
    if (this.sorted !== null) this.sort(this.sorted.column, this.sorted.down);
    this.drawHead();
    this.drawTotals();
    this.drawRows();
  }

  /** Draws the selection; with `scroll` brings it into sight. */
  reselect(scroll: boolean): void {
    const place = this.rows.indexOf(this.spec.selected());
    if (place >= 0) {
      this.active = place;
      if (scroll) this.bring(place);
    }
    this.drawRows();
  }

  /** Sums of the rows shown, in SI, by column key. */
  totals(): Record<string, number> {
    const counted = this.rows.filter((row) => this.spec.counts(row));
    const sums: Record<string, number> = { rows: counted.length };
    for (const column of this.spec.columns) {
      if (!column.total) continue;
      sums[column.key] = counted.reduce((sum, row) => sum + Number(column.value(row) ?? 0), 0);
    }
    return sums;
  }

  filter(key: string, value: string): void {
    const column = this.spec.columns.find((each) => each.key === key);
    if (column === undefined) return;
    value === "" ? this.picked.delete(column) : this.picked.set(column, value);
    this.scroller.scrollTop = 0;
    this.refresh();
  }

  cell(row: number, column: Column): string {
    const value = column.value(row);
    if (value === null) return "";
    if (typeof value === "boolean") return value ? "yes" : "no";
    if (typeof value === "number") {
      const text = this.state.units.text(value, column.quantityOf?.(row) ?? column.quantity ?? "number");
      return column.suffix?.(row) ? `${text} ${column.suffix(row)}` : text;
    }
    return column.shown === undefined ? value : column.shown(value);
  }

  private toolbar(): HTMLElement {
    const { spec } = this;
    const search = make("input", { type: "search", placeholder: `Search ${spec.noun[1]}`, "aria-label": `Search ${spec.noun[1]}` });
    search.addEventListener("input", () => {
      this.search = search.value;
      this.scroller.scrollTop = 0;
      this.refresh();
    });
    const filters = make("button", { type: "button", "aria-pressed": "false" }, "Filter columns");
    filters.addEventListener("click", () => {
      const open = this.filterRow.hidden;
      this.filterRow.hidden = !open;
      filters.setAttribute("aria-pressed", String(open));
      if (open) this.drawFilters();
      else { this.picked.clear(); this.refresh(); }
    });
    const copy = make("button", { type: "button" }, "Copy");
    copy.addEventListener("click", () => void copyText(tabText(this.spec, this.rows, this.state.units)).then((done) =>
      announce(done ? `${this.counted(this.rows.length)} copied` : "The browser did not let the rows be copied")));
    const save = make("button", { type: "button" }, "Save as CSV");
    save.addEventListener("click", () => {
      saveFile(`${spec.id}-shown.csv`, csvText(this.spec, this.rows, this.state.units));
      announce(`${this.counted(this.rows.length)} saved as CSV`);
    });
    return make("div", { class: "toolbar" }, search, filters, copy, save);
  }

  private counted(count: number): string { return `${count} ${this.spec.noun[count === 1 ? 0 : 1]}`; }

  private passes(row: number, needle: string): boolean {
    for (const [column, wanted] of this.picked) {
      if (column.choices) {
        if (key(column.value(row)) !== wanted) return false;
      } else if (!this.cell(row, column).toLowerCase().includes(wanted.toLowerCase())) return false;
    }
    return needle === "" || this.spec.columns.some((column) => this.lower(column, row).includes(needle));
  }

  private lower(column: Column, row: number): string {
    let texts = this.words.get(column);
    if (texts === undefined) this.words.set(column, texts = []);
    return texts[row] ??= this.cell(row, column).toLowerCase();
  }

  private sort(column: Column, down: boolean): void {
    const way = down ? -1 : 1;
    const values = new Map(this.rows.map((row) => [row, column.value(row)]));
    this.rows.sort((a, b) => {
      const [x, y] = [values.get(a) ?? null, values.get(b) ?? null];
      if (x === null || x === "") return y === null || y === "" ? a - b : 1;
      if (y === null || y === "") return -1;
      if (typeof x === "string" && typeof y === "string") {
        return way * x.localeCompare(y, undefined, { numeric: true }) || a - b;
      }
      return way * (Number(x) - Number(y)) || a - b;
    });
  }

  private drawHead(): void {
    const focused = document.activeElement instanceof HTMLElement && this.head.contains(document.activeElement)
      ? document.activeElement.dataset["key"] : undefined;
    this.head.replaceChildren(...this.spec.columns.map((column, i) => {
      const on = this.sorted?.column === column ? this.sorted : null;
      const button = make("button", { type: "button", "data-key": column.key }, column.title,
        make("span", { class: "arrow", "aria-hidden": "true" }, on === null ? "" : on.down ? " \u2193" : " \u2191"));
      button.addEventListener("click", () => {
        if (on?.down) this.sorted = null;
        else this.sorted = { column, down: on !== null };
        this.refresh();
      });
      return make("th", {
        scope: "col", "aria-colindex": String(i + 1), class: column.quantity ? "numeric" : "",
        "aria-sort": on === null ? "none" : on.down ? "descending" : "ascending",
      }, button);
    }));
    if (focused !== undefined) this.head.querySelector<HTMLElement>(`[data-key="${focused}"]`)?.focus();
  }

  private drawFilters(): void {
    this.filterRow.replaceChildren(...this.spec.columns.map((column) => make("td", {}, this.filterOf(column))));
  }

  private filterOf(column: Column): HTMLElement {
    const label = `Filter by ${column.title.toLowerCase()}`;
    if (!column.choices) {
      const input = make("input", { type: "text", "aria-label": label, placeholder: "contains" });
      input.addEventListener("input", () => this.filter(column.key, input.value));
      return input;
    }
    const values = new Map<string, string>();
    for (let row = 0; row < this.spec.count; row++) values.set(key(column.value(row)), this.cell(row, column));
    const choices = [...values].sort((a, b) => a[1].localeCompare(b[1], undefined, { numeric: true }));
    const select = make("select", { "aria-label": label }, make("option", { value: "" }, "all"),
      ...choices.map(([value, shown]) => make("option", { value }, shown || "(empty)")));
    select.value = this.picked.get(column) ?? "";
    select.addEventListener("change", () => this.filter(column.key, select.value));
    return select;
  }

  private drawTotals(): void {
    const { spec } = this;
    const sums = this.totals();
    const any = spec.columns.some((column) => column.total);
    this.foot.hidden = !any;
    this.foot.replaceChildren(...spec.columns.map((column, i) => {
      if (i === 0) return make("th", { scope: "row" }, "Total");
      if (!column.total) return make("td", {});
      return make("td", { class: "numeric", "data-total": column.key },
        this.state.units.text(sums[column.key]!, column.quantity ?? "number"));
    }));
    const all = this.rows.length === spec.count;
    this.tally.textContent = `${all ? this.counted(spec.count) : `${this.rows.length} of ${this.counted(spec.count)}`}`
      + (spec.note ? `. ${spec.note}` : "");
    this.table.setAttribute("aria-rowcount", String(this.rows.length + 1));
    this.table.setAttribute("aria-colcount", String(spec.columns.length));
    this.active = Math.min(this.active, Math.max(0, this.rows.length - 1));
  }

  private drawRows(): void {
    const { rowHeight } = this.spec;
    this.detail.textContent = this.rows.includes(this.spec.selected()) ? this.spec.detail?.(this.spec.selected()) ?? "" : "";
    const first = Math.max(0, Math.floor(this.scroller.scrollTop / rowHeight) - SPARE_ROWS);
    const height = this.scroller.clientHeight || 480;
    const last = Math.min(this.rows.length, first + Math.ceil(height / rowHeight) + 2 * SPARE_ROWS);
    const focused = this.body.contains(document.activeElement);
    const rows: Node[] = [];
    if (first > 0) rows.push(spacer(first * rowHeight, this.spec.columns.length));
    for (let place = first; place < last; place++) rows.push(this.drawRow(place));
    if (last < this.rows.length) rows.push(spacer((this.rows.length - last) * rowHeight, this.spec.columns.length));
    if (this.rows.length === 0) {
      rows.push(make("tr", { class: "empty" }, make("td", { colspan: String(this.spec.columns.length) },
        this.spec.count === 0 ? `There are no ${this.spec.noun[1]}.` : `No ${this.spec.noun[1]} pass the filters.`)));
    }
    this.body.replaceChildren(...rows);
    const inSight = this.active >= first && this.active < last ? this.active : first;
    const holder = this.body.querySelector<HTMLElement>(`[data-place="${inSight}"]`);
    holder?.setAttribute("tabindex", "0");
    if (focused) holder?.focus({ preventScroll: true });
  }

  private drawRow(place: number): HTMLElement {
    const row = this.rows[place]!;
    const line = make("tr", {
      "data-place": String(place), "data-row": String(row), "aria-rowindex": String(place + 2), tabindex: "-1",
      "aria-selected": String(row === this.spec.selected()),
    }, ...this.spec.columns.map((column) => {
      const words = this.cell(row, column);
      return make("td", { class: column.quantity ? "numeric" : "" }, make("span", words.length > 12 ? { title: words } : {}, words));
    }));
    line.style.height = `${this.spec.rowHeight}px`;
    return line;
  }

  private click(event: Event): void {
    const line = event.target instanceof Element ? event.target.closest<HTMLElement>("tr[data-row]") : null;
    if (line === null) return;
    this.active = Number(line.dataset["place"]);
    this.spec.select(Number(line.dataset["row"]));
    this.drawRows();
    this.focusActive();
  }

  private key(event: KeyboardEvent): void {
    if (!(event.target instanceof Element) || event.target.closest("tbody") === null) return;
    const page = Math.max(1, Math.floor(this.scroller.clientHeight / this.spec.rowHeight) - 2);
    const steps: Record<string, number> = {
      ArrowDown: 1, ArrowUp: -1, PageDown: page, PageUp: -page, Home: -this.rows.length, End: this.rows.length,
    };
    const step = steps[event.key];
    if (step === undefined) {
      if (event.key !== "Enter" && event.key !== " ") return;
    } else this.active = Math.min(this.rows.length - 1, Math.max(0, this.active + step));
    event.preventDefault();
    this.bring(this.active);
    const row = this.rows[this.active];
    if (row !== undefined) this.spec.select(row);
    this.drawRows();
    this.focusActive();
  }

  private focusActive(): void {
    this.body.querySelector<HTMLElement>(`[data-place="${this.active}"]`)?.focus({ preventScroll: true });
  }

  private bring(place: number): void {
    const { rowHeight } = this.spec;
    const head = this.table.tHead?.clientHeight ?? 0;
    const room = this.scroller.clientHeight - head - (this.table.tFoot?.clientHeight ?? 0);
    const top = place * rowHeight;
    if (top < this.scroller.scrollTop || top + rowHeight > this.scroller.scrollTop + room) {
      this.scroller.scrollTop = Math.max(0, top - room / 2);
    }
  }
}

const key = (value: Cell): string => value === null ? "-" : String(value);

function columnWidth(column: Column): HTMLElement {
  const element = make("col");
  element.style.width = `${column.width}px`;
  return element;
}

function spacer(height: number, columns: number): HTMLElement {
  const row = make("tr", { class: "spacer", "aria-hidden": "true" }, make("td", { colspan: String(columns) }));
  row.style.height = `${height}px`;
  return row;
}
