import assert from "node:assert/strict";
import test from "node:test";
import { keep, recalled } from "./view.ts";

const store = (text: string | null) => ({ getItem: () => text });

test("a view is recalled as it was kept; what cannot be read is as usual", () => {
  let kept = "";
  const v = { ...recalled(store(null)), zoom: 0.5, look: "shop" as const, tongue: "de", far: true };
  keep({ setItem: (_: string, text: string) => void (kept = text) }, v);
  const back = recalled(store(kept));
  assert.deepEqual([back.zoom, back.look, back.tongue, back.far], [0.5, "shop", "de", false]);
  for (const bad of ["", "{", "null", "7", '{"zoom":9,"look":"neon","tongue":3}', '{"zoom":"0.5"}'])
    assert.deepEqual(recalled(store(bad)), recalled(store(null)), bad);
});

test("a browser that keeps nothing is no fault", () => {
  keep({ setItem: () => { throw new Error("full"); } }, recalled(store(null)));
});
