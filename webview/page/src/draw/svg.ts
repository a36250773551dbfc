// Making SVG by script: presentation attributes and classes only, since the page's policy forbids style attributes.

const NS = "http://www.w3.org/2000/svg";

export type Attributes = Record<string, string | number | undefined>;

/** Adds an element to parent. */
export function add<K extends keyof SVGElementTagNameMap>(parent: Element, name: K, attributes: Attributes = {}, text?: string): SVGElementTagNameMap[K] {
  const e = document.createElementNS(NS, name);
  set(e, attributes);
  if (text !== undefined) e.textContent = text;
  parent.append(e);
  return e;
}

/** Sets attributes; undefined takes one away. Numbers keep a hundredth of a px. */
export function set(e: Element, attributes: Attributes): void {
  for (const [k, v] of Object.entries(attributes)) {
    if (v === undefined) e.removeAttribute(k);
    else e.setAttribute(k, typeof v === "number" ? String(Math.round(v * 100) / 100) : v);
  }
}

/** Ids for patterns, which are the document's: each drawing counts its own. */
export type Ids = (what: string) => string;
export const idsFor = (drawing: string): Ids => {
  let n = 0;
  return (what) => `${drawing}-${what}-${++n}`;
};

/** A pattern of strokes, step px apart at an angle in degrees; returns what to fill with. */
export function hatch(svg: Element, ids: Ids, cls: string, step: number, angle: number): string {
  const id = ids("hatch");
  const p = add(add(svg, "defs"), "pattern", { id, width: step, height: step, patternUnits: "userSpaceOnUse", patternTransform: `rotate(${angle})` });
  add(p, "line", { x1: 0, y1: 0, x2: 0, y2: step, class: cls, "stroke-width": 2.5 });
  return `url(#${id})`;
}

/** The size of the page's text against the usual 16 px: everything written on a drawing grows with it. */
export const textScale = (): number => parseFloat(getComputedStyle(document.documentElement).fontSize) / 16 || 1;
