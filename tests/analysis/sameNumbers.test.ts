import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { expect, test } from "vitest";
import { conclude } from "../../lib/analysis/conclude.js";
import { summarise } from "../../lib/analysis/summary.js";
import { readRecordings } from "../../lib/recording/readRecordings.js";
import type { Recording } from "../../lib/recording/types.js";
import { runOf } from "../../lib/run/run.js";
import type { Estimate } from "../../lib/units/estimate.js";
import { type Case, dc, servo } from "../answers/cases.js";
import { sources } from "../identify/study/cases.js";
import { dialects, plainDialect, writtenAs } from "./dialects.js";

/** What is said of a log: words as they are, numbers to be compared, and intervals. */
type Said = Readonly<Record<string, string | number | readonly number[]>>;

/** Verdicts, causes of one in a hundred and more, constants, and responses that were determined. */
async function saidOf(text: string): Promise<Said> {
  const folder = mkdtempSync(join(tmpdir(), "same-"));
  const file = join(folder, "log.csv");
  writeFileSync(file, text);
  try {
    const { recordings } = await readRecordings([file]);
    const said: Record<string, string | number | readonly number[]> = {};
    const interval = (name: string, e: Estimate | undefined): void => {
      if (e !== undefined) said[name] = [e.value, e.low, e.high];
    };
    said.channels = Object.keys(recordings[0].channels).sort().join(" ");
    const { recordings: analysed } = conclude([
      summarise(runOf(recordings[0]), { constants: true, steps: true }),
    ]);
    const { verdicts, constants, steps = [] } = analysed[0];
    verdicts.trials.forEach(({ kind, verdict, sense, causes }, k) => {
      said[`trial ${k + 1}`] = `${kind} ${verdict} ${sense}`;
      for (const { cause, probability } of causes)
        if (probability > 0.01) said[`trial ${k + 1} ${cause}`] = probability;
    });
    for (const [name, e] of Object.entries({
      ...constants?.electrical,
      ...constants?.mechanical,
      ...constants?.ratios,
    }))
      interval(name, e);
    steps.forEach(({ fit }, k) => {
      said[`step ${k + 1}`] = fit.determined ? fit.model : "not determined";
      if (!fit.determined) return;
      interval(`step ${k + 1} gain`, fit.gain ?? fit.rateGain);
      interval(`step ${k + 1} time constant`, fit.timeConstant);
    });
    return said;
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/** Lines for what one log is told and the other is not: numbers within a hundredth of a percent of the larger end. */
function differences(one: Said, other: Said): string[] {
  const alike = (a: Said[string], b: Said[string]): boolean => {
    if (typeof a === "number" && typeof b === "number") return Math.abs(a - b) < 1e-4;
    if (typeof a !== "object" || typeof b !== "object") return a === b;
    const size = Math.max(...a.map(Math.abs));
    return a.every((v, k) => v === b[k] || Math.abs(v - b[k]) <= 1e-4 * size);
  };
  return [...new Set([...Object.keys(one), ...Object.keys(other)])]
    .filter((key) => !alike(one[key], other[key]))
    .map((key) => `${key}: ${one[key]} | ${other[key]}`);
}

const study = (name: string, recording: () => Recording): Case => ({
  name,
  give: () => ({ recordings: [recording()] }),
});

// Seeds by which rounding once chose another model, another window, or another sense of rotation.
const cases: readonly Case[] = [
  servo(9, "plateau", "voltages"),
  servo(27, "ramp", "voltages"),
  dc(3, "stairs", ["voltageCommand", "position", "current"]),
  study("DC motor of the study 2", () => sources.dc(2).recording),
  study("rig of the study 8", () => sources.rig(8).recording),
];

test.each(cases)(
  "the same numbers give the same answers however they are written: $name",
  async ({ give }) => {
    const { recordings } = await give();
    const plain = await saidOf(writtenAs(recordings[0], plainDialect));
    expect(Object.keys(plain).length).toBeGreaterThan(4);
    for (const [name, dialect] of Object.entries(dialects))
      expect(differences(plain, await saidOf(writtenAs(recordings[0], dialect))), name).toEqual([]);
  },
);
