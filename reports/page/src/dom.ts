// Making elements. Text from the model only ever becomes a text node.

type Content = string | Node;
type Settings = Record<string, string | boolean | ((event: Event) => void)>;

/** An element with attributes (`on...` are listeners, true is an empty attribute, false none) and content. */
export function make<K extends keyof HTMLElementTagNameMap>(
  name: K, settings: Settings = {}, ...content: Content[]
): HTMLElementTagNameMap[K] {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(settings)) {
    if (typeof value === "function") element.addEventListener(key.slice(2), value);
    else if (value === true) element.setAttribute(key, "");
    else if (value !== false) element.setAttribute(key, value);
  }
  element.append(...content);
  return element;
}

export function makeSvg(name: string, settings: Record<string, string | number> = {}, ...content: Content[]): SVGElement {
  const element = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(settings)) element.setAttribute(key, String(value));
  element.append(...content);
  return element;
}

export function byId<T extends HTMLElement = HTMLElement>(id: string): T {
  const element = document.getElementById(id);
  if (element === null) throw new Error(`the page has no part ${id}`);
  return element as T;
}

/** A small square in a colour of the data; through the object model, since the policy forbids style attributes. */
export function swatch(colour: string): HTMLElement {
  const element = make("span", { class: "swatch", "aria-hidden": "true" });
  element.style.backgroundColor = colour;
  return element;
}

export function saveFile(name: string, text: string): void {
  const address = URL.createObjectURL(new Blob([text], { type: "text/csv;charset=utf-8" }));
  make("a", { href: address, download: name }).click();
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}

export async function copyText(text: string): Promise<boolean> {
  try {
    await navigator.clipboard.writeText(text);
    return true;
  } catch {
    const area = make("textarea", { class: "off-screen", "aria-hidden": "true" });
    area.value = text;
    document.body.append(area);
    area.select();
    const done = document.execCommand("copy");
    area.remove();
    return done;
  }
}

/** Says something to screen readers and to the eye. */
export function announce(text: string): void {
  byId("live").textContent = text;
}
