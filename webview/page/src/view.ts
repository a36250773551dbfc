// What belongs to one page alone: its place, its look and what is open on it. Kept in the browser.

import type { StageQuestion } from "./benchask.ts";
import type { Pour, Way } from "./benchmessage.ts";

/** What a page is showing of itself. */
export interface View {
  readonly place: Place;
  readonly part: string; // of the shelf: "", "object/ID", "compare/A/B", "call-over", "pairs/8", "walk" or "away"
  readonly find: Find;
  readonly laid: string | null; // a kept strike that waits for the one it is compared with
  readonly zoom: number; // 0 near .. 1 whole
  readonly huntZoom: number; // the same, of the place Wanted
  readonly look: Look;
  readonly tongue: string | null; // asked for; null: the browser's
  readonly far: boolean;
  readonly numbers: boolean;
  readonly compare: string | null; // a strike on the trail
  readonly draft: Draft | null; // the wanted list while it is being typed
  readonly cue: boolean; // a verdict is told by sound
  readonly buzz: boolean; // and by vibration
  readonly open: string | null; // the row whose choices are open
  readonly naming: string | null; // the row that is being named
  readonly dialog: Dialog | null;
  readonly benchWay: Way; // of the job that would be begun
  readonly benchPour: Pour;
  readonly benchUnit: "ml" | "g"; // of what is poured
  readonly benchNote: string | null; // what was done last
  readonly benchTab: BenchTab;
  readonly driftVoice: string | null; // whose plot is shown
  readonly stage: StageQuestion | null; // what is asked of it
  readonly rowText: { readonly vessels: string; readonly aims: string }; // as it is typed
  readonly rowDone: readonly string[]; // what of the row is done
}

export type BenchTab = "water" | "row" | "drift";
export type Place = "listen" | "wanted" | "bench" | "shelf";
export const PLACES: readonly Place[] = ["listen", "wanted", "bench", "shelf"];
/** The place an address means. */
export const placeOf = (hash: string): Place => PLACES.find((p) => hash.slice(1).split("/")[0] === p) ?? "listen";
/** What of the place: "#shelf/object/ID" is part "object/ID". */
export const partOf = (hash: string): string => hash.split("/").slice(1).join("/");

/** What is looked for on the shelf, by the names the daemon has for it; "" asks nothing. */
export type Find = Readonly<Record<string, string>>;

/** A list that is being typed; of: the revision it began from. */
export interface Draft {
  readonly text: string;
  readonly of: number;
}

/** The zoom of the place that is open. */
export const zoomOf = (v: View): number => (v.place === "wanted" ? v.huntZoom : v.zoom);

export type Look = "system" | "hall" | "shop";
export type Dialog = "setup" | "keys" | "cautions";

export const LOOKS: readonly Look[] = ["system", "hall", "shop"];

const usual: View = {
  place: "listen", part: "", find: {}, laid: null, zoom: 0, huntZoom: 1, look: "system", tongue: null, far: false, numbers: false, compare: null, draft: null, cue: false, buzz: false,
  open: null, naming: null, dialog: null, benchWay: "struck", benchPour: "scale", benchUnit: "ml", benchNote: null, benchTab: "water", driftVoice: null, stage: null,
  rowText: { vessels: "", aims: "" }, rowDone: [],
};

const KEY = "ringwell.view";

/** The view as it was left; what cannot be read is as usual. */
export function recalled(store: Pick<Storage, "getItem">): View {
  try {
    const kept: unknown = JSON.parse(store.getItem(KEY) ?? "{}");
    const { zoom, huntZoom, look, tongue, draft, cue, buzz, benchWay, benchPour, benchUnit, benchTab, stage, rowText, rowDone } = (kept ?? {}) as Record<string, unknown>;
    return {
      ...usual,
      zoom: share(zoom) ?? usual.zoom,
      huntZoom: share(huntZoom) ?? usual.huntZoom,
      draft: draftOf(draft),
      cue: cue === true,
      buzz: buzz === true,
      benchWay: benchWay === "blown" ? "blown" : "struck",
      benchPour: benchPour === "eye" || benchPour === "syringe" ? benchPour : "scale",
      benchUnit: benchUnit === "g" ? "g" : "ml",
      benchTab: benchTab === "row" || benchTab === "drift" ? benchTab : "water",
      stage: stageOf(stage),
      rowText: rowTextOf(rowText),
      rowDone: Array.isArray(rowDone) ? rowDone.filter((x) => typeof x === "string") : [],
      look: LOOKS.find((l) => l === look) ?? usual.look,
      tongue: typeof tongue === "string" ? tongue : null,
    };
  } catch {
    return usual;
  }
}

const share = (x: unknown): number | null => (typeof x === "number" && x >= 0 && x <= 1 ? x : null);

function stageOf(x: unknown): StageQuestion | null {
  const { there, here, within } = (x ?? {}) as Record<string, unknown>;
  return typeof there === "number" && typeof within === "number" ? { there, within, here: typeof here === "number" ? here : null } : null;
}

function rowTextOf(x: unknown): View["rowText"] {
  const { vessels, aims } = (x ?? {}) as Record<string, unknown>;
  return { vessels: typeof vessels === "string" ? vessels : "", aims: typeof aims === "string" ? aims : "" };
}

function draftOf(x: unknown): Draft | null {
  const { text, of } = (x ?? {}) as Record<string, unknown>;
  return typeof text === "string" && typeof of === "number" ? { text, of } : null;
}

/** Keeps what should outlive the page. A browser that keeps nothing is no fault. */
export function keep(store: Pick<Storage, "setItem">, v: View): void {
  try {
    const kept = {
      zoom: v.zoom, huntZoom: v.huntZoom, look: v.look, tongue: v.tongue, draft: v.draft, cue: v.cue, buzz: v.buzz,
      benchWay: v.benchWay, benchPour: v.benchPour, benchUnit: v.benchUnit, benchTab: v.benchTab, stage: v.stage, rowText: v.rowText, rowDone: v.rowDone,
    };
    store.setItem(KEY, JSON.stringify(kept));
  } catch {
    // private windows may refuse
  }
}
