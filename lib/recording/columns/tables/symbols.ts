import type { Axis, Quantity, Side } from "../roles.js";

/** One thing a short symbol may mean, and how often it does so in motor logs. */
export interface SymbolMeaning {
  readonly quantity?: Quantity;
  readonly side?: Side;
  readonly axis?: Axis;
  readonly weight: number;
}

const is = (
  quantity: Quantity | undefined,
  weight: number,
  more: { readonly side?: Side; readonly axis?: Axis } = {},
): SymbolMeaning => ({ quantity, weight, ...more });

/**
 * Letters and letter pairs. Symbols of quantities after ISO 80000 and IEC 60027 (from memory); `u`, `y`, `r`, `e` after the usual block diagram of
 * control; Setpoint, Input, Output as libraries for hobby controllers name them. The weights are judgement (common practice, no source).
 */
export const symbols: Readonly<Record<string, readonly SymbolMeaning[]>> = {
  t: [is("time", 0.93), is("torque", 0.03), is("temperature", 0.03)],
  i: [is("current", 0.85), is("sample", 0.1)],
  iq: [is("current", 0.98, { axis: "q" })],
  id: [is("current", 0.75, { axis: "d" }), is("other", 0.15), is("sample", 0.05)],
  ia: [is("current", 0.8, { axis: "u" }), is("current", 0.18)],
  ib: [is("current", 0.95, { axis: "v" })],
  ic: [is("current", 0.95, { axis: "w" })],
  iu: [is("current", 0.97, { axis: "u" })],
  iv: [is("current", 0.97, { axis: "v" })],
  iw: [is("current", 0.97, { axis: "w" })],
  idc: [is("current", 0.95, { axis: "bus" })],
  ibus: [is("current", 0.95, { axis: "bus" })],
  u: [is("voltage", 0.6), is("duty", 0.2), is("current", 0.05), is("torque", 0.05)],
  v: [is("voltage", 0.5), is("speed", 0.45)],
  uq: [is("voltage", 0.97, { axis: "q" })],
  vq: [is("voltage", 0.97, { axis: "q" })],
  ud: [is("voltage", 0.97, { axis: "d" })],
  vd: [is("voltage", 0.97, { axis: "d" })],
  ua: [is("voltage", 0.95)],
  va: [is("voltage", 0.9)],
  um: [is("voltage", 0.9)],
  n: [is("speed", 0.65), is("sample", 0.3)],
  w: [is("speed", 0.9), is("other", 0.08)],
  wr: [is("speed", 0.8)],
  rpm: [is("speed", 1)],
  m: [is("torque", 0.75), is("motor", 0.02), is(undefined, 0.2)],
  te: [is("torque", 0.7)],
  tl: [is("torque", 0.5), is("other", 0.4)],
  q: [is("position", 0.6), is("current", 0.1, { axis: "q" })],
  qd: [is("speed", 0.6), is("position", 0.2, { side: "command" })],
  th: [is("position", 0.8)],
  x: [is("position", 0.45), is("other", 0.4)],
  y: [
    is("speed", 0.5, { side: "measured" }),
    is("position", 0.35, { side: "measured" }),
    is("other", 0.1),
  ],
  r: [is("speed", 0.45, { side: "command" }), is("position", 0.45, { side: "command" }), is("other", 0.05)],
  e: [is("other", 0.9)],
  p: [is("other", 0.5), is("position", 0.4)],
  s: [is("time", 0.6), is("position", 0.3)],
  a: [is("current", 0.4), is("other", 0.5)],
  z: [is("index", 0.5), is("other", 0.4)],
  pw: [is("duty", 0.6)],
  dc: [is("duty", 0.3), is(undefined, 0.5, { axis: "bus" })],
  no: [is("sample", 0.9)],
  "#": [is("sample", 0.9)],
  setpoint: [
    is("speed", 0.5, { side: "command" }),
    is("position", 0.35, { side: "command" }),
    is("current", 0.08, { side: "command" }),
    is("torque", 0.05, { side: "command" }),
  ],
  input: [
    is("speed", 0.45, { side: "measured" }),
    is("position", 0.3, { side: "measured" }),
    is("voltage", 0.08),
    is("duty", 0.04),
    is("other", 0.1),
  ],
  output: [
    is("duty", 0.5),
    is("voltage", 0.15, { side: "command" }),
    is("speed", 0.08),
    is("current", 0.06, { side: "command" }),
    is("other", 0.15),
  ],
  power: [is("other", 0.6), is("duty", 0.4)],
  leistung: [is("other", 0.95)],
  effort: [is("torque", 0.6), is("duty", 0.2), is("current", 0.12)],
  index: [is("sample", 0.6), is("index", 0.35)],
  count: [is("position", 0.55), is("sample", 0.4)],
  counter: [is("sample", 0.6), is("position", 0.35)],
  tick: [is("time", 0.55), is("sample", 0.35), is("position", 0.1)],
  ticks: [is("position", 0.65), is("time", 0.2), is("sample", 0.1)],
  zahler: [is("position", 0.55), is("sample", 0.4)],
  frequency: [is("speed", 0.35), is("other", 0.5)],
  freq: [is("speed", 0.35), is("other", 0.5)],
  frequenz: [is("speed", 0.35), is("other", 0.5)],
  adc: [is("current", 0.4), is(undefined, 0.5), is("other", 0.1)],
  level: [is("other", 0.7), is("position", 0.1)],
  load: [is("other", 0.6), is("torque", 0.2), is("current", 0.1)],
  last: [is("other", 0.6), is("torque", 0.2)],
  acc: [is("other", 0.9)],
  regime: [is("speed", 0.8)],
  tension: [is("voltage", 0.85), is("other", 0.1)],
  tempo: [is("time", 0.95)],
  moment: [is("torque", 0.9), is("time", 0.05)],
  momento: [is("torque", 0.9), is("time", 0.05)],
  control: [is("duty", 0.35), is("voltage", 0.2, { side: "command" }), is("other", 0.3)],
  ctrl: [is("duty", 0.35), is("voltage", 0.2, { side: "command" }), is("other", 0.3)],
};
