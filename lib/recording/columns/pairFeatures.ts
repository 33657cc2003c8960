import type { NumberColumn } from "./compared.js";
import { leadOf } from "./leadOf.js";
import {
  accelerationExplained,
  differenceOfTwo,
  lineThrough,
  motionExplained,
  neededToStay,
  rateFit,
  speedChanges,
  sumOfThree,
} from "./relations.js";
import type { Windows } from "./windows.js";

/** The strongest things that the numbers of a column show beside others, whatever those are. */
class Shown {
  readonly most = new Map<string, number>();

  constructor() {
    for (const name of pairNames) this.most.set(name, 0);
  }

  add(name: (typeof pairNames)[number], value: number): void {
    if (value > (this.most.get(name) ?? 0)) this.most.set(name, Math.min(1, value));
  }
}

const pairNames = [
  "has a rate",
  "is a rate",
  "has a held rate",
  "is the rate of an even one",
  "follows",
  "follows a held one",
  "follows a clean one",
  "is followed by a noisy one",
  "is followed at another size",
  "follows at another size",
  "follows exactly",
  "goes against",
  "goes with the left one",
  "goes with the right one",
  "leads",
  "lags",
  "its changes are explained",
  "explains changes",
  "its changes are explained by the left one",
  "its changes are explained by the right one",
  "is moved",
  "moves",
  "stays by itself",
  "needs driving",
  "is hardly needed",
  "is needed",
  "sums to nothing",
  "is a difference",
  "part of a difference",
  "alone",
] as const;

/** More columns than this are not compared. */
const mostCompared = 24;

export function pairFeatures(
  columns: readonly NumberColumn[],
  windows: Windows,
  time: number | undefined,
): (readonly [string, number])[][] {
  const shown = columns.map(() => new Shown());
  const moving = [...columns.keys()]
    .filter((k) => columns[k].numbers.shape !== "constant" && columns[k].index !== time)
    .slice(0, mostCompared);
  const follow = new Map<string, number>();
  for (const i of moving)
    for (const j of moving) if (i < j) follow.set(`${i} ${j}`, follows(i, j, columns, windows, shown));
  const between = (i: number, j: number): number => follow.get(i < j ? `${i} ${j}` : `${j} ${i}`) ?? 0;
  for (const i of moving) {
    const a = columns[i];
    const changes = speedChanges(windows, a.place);
    for (const j of moving) {
      if (i === j) continue;
      const b = columns[j];
      const rate = ratesOf(a, b, windows);
      shown[i].add("has a rate", rate);
      shown[j].add("is a rate", rate);
      if (b.numbers.shape === "held") shown[i].add("has a held rate", rate);
      if (a.numbers.rising > 0.9 || a.numbers.falling > 0.9) shown[j].add("is the rate of an even one", rate);
      if (rate > 0.9) continue;
      if (changes !== undefined) {
        const explained = accelerationExplained(windows, changes, b.place);
        shown[i].add("its changes are explained", explained);
        shown[j].add("explains changes", explained);
        if (j === i - 1) shown[i].add("its changes are explained by the left one", explained);
        if (j === i + 1) shown[i].add("its changes are explained by the right one", explained);
      }
      if (between(i, j) > 0.95) continue;
      const moved = motionExplained(windows, a.place, b.place);
      shown[i].add("is moved", moved);
      shown[j].add("moves", moved);
      const needed = neededToStay(windows, a.place, b.place);
      if (needed === undefined) continue;
      shown[i].add("stays by itself", 1 - needed / 0.12);
      shown[i].add("needs driving", (needed - 0.2) / 0.3);
      shown[j].add("is hardly needed", 1 - needed / 0.12);
      shown[j].add("is needed", (needed - 0.2) / 0.3);
    }
  }
  sums(moving, columns, shown, between);
  for (const i of moving) if (moving.every((j) => j === i || between(i, j) < 0.3)) shown[i].add("alone", 1);
  return shown.map((s) => [...s.most]);
}

function ratesOf(a: NumberColumn, b: NumberColumn, windows: Windows): number {
  const fit = rateFit(windows, a.place, b.place);
  if (fit === undefined) return 0;
  const whole = Math.min(1, Math.max(0, (fit.explained - 0.8) / 0.15));
  const centred = Math.min(1, Math.max(0, (fit.explainedCentred - 0.5) / 0.4));
  return whole * Math.max(centred, fit.explained > 0.97 ? 0.35 : 0);
}

/** Notes how one column goes with another; the part of it that is explained. */
function follows(
  i: number,
  j: number,
  columns: readonly NumberColumn[],
  windows: Windows,
  shown: readonly Shown[],
): number {
  const a = columns[i];
  const b = columns[j];
  const fit = lineThrough(windows.mean[a.place], windows.mean[b.place]);
  if (fit === undefined) return 0;
  const r = Math.max(0, Math.min(fit.explained, fit.explainedCentred));
  if (r < 0.1) return r;
  const next = Math.abs(b.index - a.index) === 1;
  if (next) {
    shown[i].add("goes with the right one", r);
    shown[j].add("goes with the left one", r);
  }
  if (fit.factor < 0) {
    shown[i].add("goes against", r);
    shown[j].add("goes against", r);
  }
  const same = Math.abs(Math.log(Math.abs(fit.factor))) < 0.3 && fit.factor > 0;
  for (const [me, other] of [
    [i, j],
    [j, i],
  ]) {
    const { shape } = columns[other].numbers;
    if (!same) {
      shown[me].add(me === i ? "is followed at another size" : "follows at another size", r);
      continue;
    }
    shown[me].add("follows", r);
    if (shape === "held" || shape === "ramps") shown[me].add("follows a held one", r);
    if (shape === "clean" || shape === "smooth") shown[me].add("follows a clean one", r);
    if (shape === "noisy" || shape === "smooth") shown[me].add("is followed by a noisy one", r);
    if (fit.explained > 0.9998) shown[me].add("follows exactly", 1);
  }
  if (same && r > 0.5) {
    const lead = leadOf(a.values, b.values) ?? 0;
    if (lead !== 0) {
      shown[lead > 0 ? i : j].add("leads", 1);
      shown[lead > 0 ? j : i].add("lags", 1);
    }
  }
  return r;
}

const thinTo = 300;

function sums(
  moving: readonly number[],
  columns: readonly NumberColumn[],
  shown: readonly Shown[],
  between: (i: number, j: number) => number,
): void {
  const few = moving.slice(0, 12);
  const values = new Map(
    few.map((k) => {
      const v = columns[k].values;
      const step = Math.max(1, Math.floor(v.length / thinTo));
      return [k, step === 1 ? v : v.filter((_, i) => i % step === 0)] as const;
    }),
  );
  const of = (k: number): Float64Array => values.get(k) as Float64Array;
  for (const [x, i] of few.entries()) {
    for (const [y, j] of few.entries()) {
      if (y <= x) continue;
      for (const [z, k] of few.entries()) {
        if (z > y && sumOfThree(of(i), of(j), of(k)) < 0.12)
          for (const own of [i, j, k]) shown[own].add("sums to nothing", 1);
        if (k === i || k === j || between(i, j) < 0.5) continue;
        if (differenceOfTwo(of(i), of(j), of(k)) > 0.1) continue;
        shown[k].add("is a difference", 1);
        shown[i].add("part of a difference", 1);
        shown[j].add("part of a difference", 1);
      }
    }
  }
}
