// Wires the page: the line to the daemon, the store, the drawing, keys and fingers.

import { letIn, strikesAfter } from "./ask.ts";
import { frames } from "./frame.ts";
import { pressed, taken } from "./keys.ts";
import { live, type Socket } from "./live.ts";
import { Malformed } from "./wire.ts";
import { Page } from "./page.ts";
import { pinches } from "./pinch.ts";
import { Store } from "./store.ts";
import { partOf, placeOf, zoomOf } from "./view.ts";

/** How often ages on the trail are told anew, in ms. */
const AGES = 10_000;

const root = document.documentElement;
const still = matchMedia("(prefers-reduced-motion: reduce)");

let stale = true; // something has changed since it was last shown
let until = 0; // what is shown may stand until then
const ask = frames((now) => {
  if (stale || now >= until) {
    stale = false;
    dress();
    until = now + Math.min(page.show(store.app(now)), AGES);
  }
  return Math.min(page.frame(now, still.matches), until - now);
});
const changed = () => {
  stale = true;
  ask();
};
const store = new Store(changed);
const page = new Page(changed);

/** What the whole page wears: its look, its tongue, the far view, and whether its text is large. */
function dress(): void {
  const { view, t } = store.app(0);
  if (view.look === "system") delete root.dataset["look"];
  else root.dataset["look"] = view.look;
  root.lang = t.code;
  root.dataset["place"] = view.place;
  root.toggleAttribute("data-knows", (store.state.shelf?.voices ?? 0) > 0);
  root.toggleAttribute("data-far", view.far);
  root.toggleAttribute("data-large", parseFloat(getComputedStyle(root).fontSize) > 22);
  document.title = `${{ listen: t.listen, wanted: t.hunt.wanted, bench: t.bench.bench, shelf: t.shelf.shelf }[view.place]} · ringwell`;
}

const line = live(
  {
    connect: () => new WebSocket(`${location.protocol === "https:" ? "wss" : "ws"}://${location.host}/socket`) as unknown as Socket,
    strikesAfter,
    letIn,
    later: (ms, then) => {
      const timer = setTimeout(then, ms);
      return () => clearTimeout(timer);
    },
    chance: Math.random,
  },
  {
    message: (message) => {
      store.tell({ type: "message", message, at: Date.now() });
      if (store.state.outdated) location.reload(); // the daemon was changed: so is its page
    },
    caughtUp: (after, answer) => store.tell({ type: "caught-up", after, answer, at: Date.now() }),
    link: (link) => store.tell({ type: "link", link }),
    fault: (e) => {
      console.error(e);
      if (e instanceof Malformed) store.fault(`ringwell: ${e.message}`);
    },
  },
);

addEventListener("keydown", (e) => {
  if (e.ctrlKey || e.metaKey || e.altKey || e.isComposing || taken(e.key, e.target)) return;
  if (pressed(e.key.length === 1 ? e.key.toLowerCase() : e.key, store.view, store.deeds)) e.preventDefault();
});
// A button that was clicked lets go of the focus, so that a foot switch on the space bar freezes and does not press it again.
addEventListener("click", (e) => {
  if (e.detail > 0 && e.target instanceof Element && e.target.closest("#acts, #foot, #strip")) (document.activeElement as HTMLElement | null)?.blur();
  if (store.view.far && e.target instanceof Element && e.target.closest("#answer")) store.deeds.show({ far: false });
});
pinches(document.getElementById("rail") as unknown as SVGSVGElement, {
  zoom: () => zoomOf(store.view),
  stops: () => page.stops(store.app(Date.now())),
  to: (zoom) => store.deeds.zoom(zoom),
});
for (const touch of ["click", "keydown"]) addEventListener(touch, () => store.touched());
addEventListener("hashchange", () => store.deeds.show({ place: placeOf(location.hash), part: partOf(location.hash), open: null, naming: null }));
addEventListener("pagehide", () => store.leave());
const back = () => {
  line.retry();
  store.back();
};
addEventListener("online", back);
addEventListener("offline", () => line.doubt());
document.addEventListener("visibilitychange", () => {
  if (!document.hidden) back();
});
still.addEventListener("change", changed);
changed();
