// What belongs to one page alone: its place, its look and what is open on it. Kept in the browser.

/** What a page is showing of itself. */
export interface View {
  readonly zoom: number; // 0 near .. 1 whole
  readonly look: Look;
  readonly tongue: string | null; // asked for; null: the browser's
  readonly far: boolean;
  readonly numbers: boolean;
  readonly compare: string | null; // a strike on the trail
  readonly open: string | null; // the row whose choices are open
  readonly naming: string | null; // the row that is being named
  readonly dialog: Dialog | null;
}

export type Look = "system" | "hall" | "shop";
export type Dialog = "setup" | "keys" | "cautions";

export const LOOKS: readonly Look[] = ["system", "hall", "shop"];

const usual: View = { zoom: 0, look: "system", tongue: null, far: false, numbers: false, compare: null, open: null, naming: null, dialog: null };

const KEY = "ringwell.view";

/** The view as it was left; what cannot be read is as usual. */
export function recalled(store: Pick<Storage, "getItem">): View {
  try {
    const kept: unknown = JSON.parse(store.getItem(KEY) ?? "{}");
    const { zoom, look, tongue } = (kept ?? {}) as Record<string, unknown>;
    return {
      ...usual,
      zoom: typeof zoom === "number" && zoom >= 0 && zoom <= 1 ? zoom : usual.zoom,
      look: LOOKS.find((l) => l === look) ?? usual.look,
      tongue: typeof tongue === "string" ? tongue : null,
    };
  } catch {
    return usual;
  }
}

/** Keeps what should outlive the page. A browser that keeps nothing is no fault. */
export function keep(store: Pick<Storage, "setItem">, v: View): void {
  try {
    store.setItem(KEY, JSON.stringify({ zoom: v.zoom, look: v.look, tongue: v.tongue }));
  } catch {
    // private windows may refuse
  }
}
