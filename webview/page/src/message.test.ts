import assert from "node:assert/strict";
import { readdirSync, readFileSync } from "node:fs";
import process from "node:process";
import test from "node:test";
import { decodeDrift, decodeRow } from "./benchmessage.ts";
import { decode, type Message } from "./message.ts";

const dir = `${process.cwd()}/../../testdata/wire`;
const files = readdirSync(dir).filter((f) => f.endsWith(".json"));
const golden = (name: string) => readFileSync(`${dir}/${name}`, "utf8");

function read<T extends Message["type"]>(name: string, type: T): Extract<Message, { type: T }> {
  const m = decode(golden(name));
  assert.equal(m?.type, type, name);
  return m as Extract<Message, { type: T }>;
}

test("every message Go sends is read, and every field that is read was sent", () => {
  assert(files.length >= 10, `testdata/wire: got ${files.length} files, wanted one or more of each type`);
  const sent = (value: unknown, from: unknown, at: string): void => {
    if (typeof value !== "object" || value === null) return assert.equal(value, from, at);
    for (const [k, v] of Object.entries(value)) {
      assert(Object.hasOwn(from as object, k), `${at}.${k} is read but was not sent`);
      sent(v, (from as Record<string, unknown>)[k], `${at}.${k}`);
    }
  };
  for (const f of files) {
    const m = decode(golden(f));
    assert(m, `${f}: its type is not known to the page`);
    sent(m, JSON.parse(golden(f)), f);
  }
});

test("every form of the bench Go sends is read", () => {
  const of = (name: string) => JSON.parse(golden(`bench/${name}`));
  const { bench } = decode(golden("bench/bench.json")) as Extract<Message, { type: "bench" }>;
  assert.equal(bench.advice?.step, "add");
  assert.equal(bench.asks?.way, "blown");
  assert.deepEqual(bench.advice?.sounds.map((x) => x.strike === null), [true, false]);
  assert.equal((decode(golden("bench/bench-empty.json")) as Extract<Message, { type: "bench" }>).bench.job, null);
  assert.equal(decodeRow(of("row.json")).placed[0]?.fill_g, 22);
  const drift = decodeDrift(of("drift.json"));
  assert.equal(drift.voices[0]?.line?.stage?.leaves, true);
  assert.equal(drift.voices[1]?.line, null);
  const broken = of("drift.json");
  delete broken.voices[0].line.stage.bend_now_cents;
  assert.throws(() => decodeDrift(broken), /voices\[0\]\.line\.stage\.bend_now_cents: got nothing/);
});

test("each type the page knows has a golden file", () => {
  const types = new Set(files.map((f) => decode(golden(f))?.type));
  for (const t of ["hello", "session", "instrument", "strike", "trail", "gone", "level", "room", "state", "missed", "wanted", "shelf"])
    assert(types.has(t as Message["type"]), `no file in testdata/wire holds a ${t}`);
});

test("a strike keeps its pair, its candidates and its unknowns", () => {
  const { strike } = read("strike.json", "strike");
  assert.equal(strike.heard?.basis, "partial");
  assert.equal(strike.second?.partial, 2);
  assert.deepEqual(strike.partials.map((p) => p.pair), [1, 1, null]);
  assert.equal(strike.partials[2]?.t60_s, null);
  assert.equal(read("strike-knock.json", "strike").strike.heard, null);
  assert.equal(read("strike-withdrawn.json", "strike").strike.stage, "withdrawn");
});

test("what is not known yet does no harm", () => {
  assert.equal(decode('{"v":1,"type":"weather","rain":true}'), null);
  assert.equal(decode('{"v":1,"type":"constructor"}'), null);
  const s = JSON.parse(golden("state.json"));
  s.state.code = "dreaming";
  s.state.more = 1;
  const m = decode(JSON.stringify(s));
  assert(m?.type === "state" && m.state.code === "unknown");
});

test("what is broken is refused by the name of its field", () => {
  const broken = (name: string, change: (m: any) => void) => () => {
    const m = JSON.parse(golden(name));
    change(m);
    decode(JSON.stringify(m));
  };
  assert.throws(() => decode("{"), /not JSON/);
  assert.throws(() => decode("null"), /an object/);
  assert.throws(broken("gone.json", (m) => (m.v = 2)), /load the page anew/);
  assert.throws(broken("gone.json", (m) => (m.id = 7)), /^Error: id: got 7, wanted a text|id: got 7/);
  assert.throws(broken("trail.json", (m) => (m.strikes = null)), /strikes: got null, wanted a list/);
  assert.throws(broken("strike.json", (m) => (m.strike.partials[1].level_db = "loud")), /strike\.partials\[1\]\.level_db/);
  assert.throws(broken("strike.json", (m) => delete m.strike.used_s), /strike\.used_s: got nothing/);
});
