// The keys, as a list of what each does. A foot switch is a keyboard.

import type { Deeds } from "./app.ts";
import { zoomOf, type View } from "./view.ts";

/** How far one press moves the zoom, near being 0 and whole 1. */
const ZOOM = 0.25;

/** Does what a key asks for; false where it asks for nothing. */
export function pressed(key: string, view: View, deeds: Deeds): boolean {
  if (view.dialog) return false; // the dialog has the keyboard
  if (view.place === "shelf" && view.part === "walk" && !view.far) {
    const how = { ArrowLeft: "back", a: "again", ArrowRight: "skip" } as const;
    if (key in how) return done(deeds.walk(how[key as keyof typeof how]));
  }
  switch (key) {
    case " ":
      return done(deeds.freeze());
    case "t":
      return done(deeds.tone());
    case "k":
      return done(view.place === "wanted" ? deeds.found(null, null) : view.place === "bench" ? deeds.bench.keep() : deeds.keep());
    case "e":
      return view.place === "wanted" ? done(deeds.edit(true)) : false;
    case "c":
      return view.place === "shelf" ? done(deeds.go("shelf", "call-over")) : false;
    case "/":
      return view.place === "shelf" ? done(document.querySelector<HTMLElement>("#shelf input")?.focus()) : false;
    case "ArrowLeft":
      return done(deeds.step(-1));
    case "ArrowRight":
      return done(deeds.step(1));
    case "0":
      return done(deeds.change({ target: null }));
    case "ArrowUp":
      return done(deeds.zoom(Math.max(0, zoomOf(view) - ZOOM)));
    case "ArrowDown":
      return done(deeds.zoom(Math.min(1, zoomOf(view) + ZOOM)));
    case "z":
      return done(deeds.zoom(zoomOf(view) > 0.5 ? 0 : 1));
    case "f":
      return done(deeds.show({ far: !view.far }));
    case "n":
      return done(deeds.show({ numbers: !view.numbers }));
    case "s":
      return done(deeds.show({ dialog: "setup" }));
    case "l":
      return done(deeds.look());
    case "u":
      return done(deeds.undo());
    case "1":
      return done(deeds.go("listen"));
    case "2":
      return done(deeds.go("wanted"));
    case "3":
      return done(deeds.go("bench"));
    case "w":
      return view.place === "bench" && done(deeds.show({ benchTab: "water" }));
    case "r":
      return view.place === "bench" && done(deeds.show({ benchTab: "row" }));
    case "d":
      return view.place === "bench" && done(deeds.show({ benchTab: "drift" }));
    case "p":
      return view.place === "bench" && focused("poured");
    case "4":
      return done(deeds.go("shelf"));
    case "?":
      return done(deeds.show({ dialog: "keys" }));
    case "Escape":
      if (view.place === "shelf" && view.part && !view.far && view.open === null) return done(deeds.go("shelf"));
      return view.far || view.open !== null ? done(deeds.show({ far: false, open: null, naming: null })) : false;
  }
  return false;
}

const done = (_: void): true => true;

/** Gives a field the focus, its text selected; false where there is none. */
function focused(id: string): boolean {
  const field = document.getElementById(id);
  if (!(field instanceof HTMLInputElement)) return false;
  field.focus();
  field.select();
  return true;
}

/** Whether a key belongs to what has the focus: a field takes all, a button or link takes the space bar. */
export function taken(key: string, target: EventTarget | null): boolean {
  if (!(target instanceof Element)) return false;
  if (target.closest("input, select, textarea")) return true;
  if (target.closest("button, a, summary")) return key === " " || key === "Enter";
  return false;
}
