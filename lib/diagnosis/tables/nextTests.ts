import type { CauseCode } from "./causes.js";
import type { Source } from "./source.js";

/** A test a bench allows, with its outcomes. */
export interface TestRow {
  readonly test: string;
  /** Bits taken off for effort and for turning a shaft under power. */
  readonly cost: number;
  readonly caution?: string;
  readonly outcomes: readonly { readonly name: string; readonly meaning: string }[];
  /** Probability of each outcome under a cause; what is not listed shows the outcomes of `other`. */
  readonly likelihood: Partial<Record<CauseCode, readonly number[]>>;
  readonly other: readonly number[];
  /** It tells apart causes of a field-oriented drive only. */
  readonly fieldOriented?: boolean;
  /** It tells apart causes of other drives only. */
  readonly otherDrive?: boolean;
  readonly source: Source;
}

const springs = [0.92, 0.05, 0.03];
const free = [0.05, 0.93, 0.02];
const works = [0.93, 0.05, 0.02];
const blocksStill = [0.04, 0.93, 0.03];

/** All tests. */
export const testRows: readonly TestRow[] = [
  {
    test: "With a small current commanded and the shaft guarded, try to turn the shaft by hand (a lever or a strap, never bare fingers near a coupling).",
    cost: 0.15,
    caution: "keep the current small and the means of removing power in the other hand",
    outcomes: [
      { name: "it springs back", meaning: "two motor phases swapped, or pole pairs or line count wrong" },
      {
        name: "it turns freely",
        meaning: "the offset is a quarter of an electrical turn off, or no current flows",
      },
      { name: "it is solid", meaning: "jam, brake or load" },
    ],
    likelihood: {
      "phases-swapped": springs,
      "pole-pairs-wrong": springs,
      "line-count-wrong": springs,
      "line-count-quadrature": springs,
      "sensor-fault": [0.7, 0.25, 0.05],
      "open-phase": [0.5, 0.45, 0.05],
      "disturbed-offset": [0.07, 0.9, 0.03],
      "current-not-following": free,
      jam: [0.01, 0.02, 0.97],
      "load-or-friction": [0.1, 0.2, 0.7],
    },
    other: [0.2, 0.6, 0.2],
    source: "common practice",
  },
  {
    test: "Remove power, turn the shaft by hand through one whole turn and watch the position.",
    cost: 0.05,
    outcomes: [
      {
        name: "it shows one turn",
        meaning: "the encoder and its line count are right and the shaft is free",
      },
      { name: "it shows another number", meaning: "the line count set is wrong" },
      { name: "it shows nothing, or jumps", meaning: "the encoder or its cable is at fault" },
      { name: "the shaft cannot be turned", meaning: "jam, brake or load" },
    ],
    likelihood: {
      "line-count-wrong": [0.1, 0.88, 0.01, 0.01],
      "line-count-quadrature": [0.01, 0.97, 0.01, 0.01],
      "sensor-fault": [0.15, 0.1, 0.74, 0.01],
      jam: [0.03, 0.01, 0.01, 0.95],
      "load-or-friction": [0.45, 0.01, 0.01, 0.53],
    },
    other: [0.96, 0.01, 0.01, 0.02],
    source: "common practice",
  },
  {
    test: "Turn a current vector slowly, open loop, both ways (an alignment sweep) and log the position.",
    fieldOriented: true,
    cost: 0.2,
    caution: "the shaft follows the vector: keep it unloaded and guarded",
    outcomes: [
      {
        name: "the position rises at the expected rate",
        meaning: "leads, encoder and settings agree, so the offset is what is left",
      },
      { name: "it falls at the expected rate", meaning: "two motor phases, or A and B, are swapped" },
      { name: "it moves at another rate", meaning: "pole pairs or line count are wrong" },
      { name: "it jerks or stays", meaning: "a phase is open, or the shaft is held" },
    ],
    likelihood: {
      "phases-swapped": [0.02, 0.95, 0.02, 0.01],
      "pole-pairs-wrong": [0.02, 0.01, 0.95, 0.02],
      "line-count-wrong": [0.15, 0.01, 0.82, 0.02],
      "line-count-quadrature": [0.01, 0.01, 0.96, 0.02],
      "open-phase": [0.05, 0.05, 0.05, 0.85],
      jam: [0.01, 0.01, 0.02, 0.96],
      "load-or-friction": [0.15, 0.05, 0.1, 0.7],
      "current-not-following": [0.02, 0.02, 0.02, 0.94],
      "sensor-fault": [0.1, 0.05, 0.25, 0.6],
    },
    other: [0.94, 0.02, 0.02, 0.02],
    source: "common practice",
  },
  {
    test: "Repeat the alignment in this order on a free shaft, then the torque trial in both senses from standstill.",
    fieldOriented: true,
    cost: 0.25,
    caution: "shaft unloaded and guarded, current limited",
    outcomes: [
      { name: "it now turns with its command", meaning: "the offset was the cause" },
      { name: "it shows the same as before", meaning: "the offset is not the cause" },
      { name: "it turns against its command", meaning: "the alignment itself is at fault" },
    ],
    likelihood: {
      "stale-offset-plus": works,
      "stale-offset-minus": works,
      "half-turn-offset": [0.75, 0.05, 0.2],
      "disturbed-offset": works,
      "nothing-wrong": [0.97, 0.02, 0.01],
      "speed-loop-mistuned": [0.97, 0.02, 0.01],
    },
    other: blocksStill,
    source: "common practice",
  },
  {
    test: "Repeat the torque trial in both senses, long enough for its plateaus, and log the d and q voltages and currents.",
    fieldOriented: true,
    cost: 0.3,
    caution: "shaft unloaded and guarded, current limited",
    outcomes: [
      { name: "back-EMF along q", meaning: "the offset is right" },
      { name: "back-EMF turned by +120 deg", meaning: "the offset is a third of a turn ahead" },
      { name: "back-EMF turned by -120 deg", meaning: "the offset is a third of a turn behind" },
      { name: "back-EMF reversed", meaning: "the offset is half a turn off" },
      { name: "another angle", meaning: "the alignment was disturbed by that angle" },
    ],
    likelihood: {
      "nothing-wrong": [0.95, 0.01, 0.01, 0.01, 0.02],
      "speed-loop-mistuned": [0.95, 0.01, 0.01, 0.01, 0.02],
      "stale-offset-plus": [0.01, 0.94, 0.01, 0.01, 0.03],
      "stale-offset-minus": [0.01, 0.01, 0.94, 0.01, 0.03],
      "half-turn-offset": [0.01, 0.01, 0.01, 0.94, 0.03],
      "disturbed-offset": [0.08, 0.02, 0.02, 0.01, 0.87],
    },
    other: [0.2, 0.2, 0.2, 0.2, 0.2],
    source: "common practice",
  },
  {
    test: "Remove and lock the power, then measure continuity between the three leads at the drive's terminals.",
    fieldOriented: true,
    cost: 0.15,
    outcomes: [
      { name: "one phase is open", meaning: "an open phase" },
      { name: "all three agree", meaning: "the leads are whole" },
    ],
    likelihood: { "open-phase": [0.96, 0.04] },
    other: [0.01, 0.99],
    source: "common practice",
  },
  {
    test: "Remove power and turn the shaft by hand the positive way while you watch the sign of the position; then give a small positive output and watch it again.",
    cost: 0.15,
    caution: "the shaft turns at the second step: unloaded and guarded, the output small",
    outcomes: [
      { name: "it rises both times", meaning: "the sensor's sense and the output's agree" },
      { name: "it rises by hand and falls under output", meaning: "the motor's two wires are exchanged" },
      { name: "it falls by hand", meaning: "the sensor's A and B are exchanged" },
      { name: "it stays", meaning: "the sensor, the drive or the shaft is at fault" },
    ],
    likelihood: {
      "polarity-reversed": [0.02, 0.48, 0.48, 0.02],
      "sensor-fault": [0.3, 0.05, 0.05, 0.6],
      "current-not-following": [0.05, 0.01, 0.01, 0.93],
      jam: [0.01, 0.01, 0.01, 0.97],
      "load-or-friction": [0.1, 0.01, 0.01, 0.88],
    },
    other: [0.94, 0.02, 0.02, 0.02],
    otherDrive: true,
    source: "common practice",
  },
  {
    test: "Read the drive's state, limits and supply while the current is commanded.",
    cost: 0.1,
    outcomes: [
      { name: "disabled, limited or without supply", meaning: "the drive did not give the current" },
      { name: "enabled and supplied", meaning: "the drive is not the cause" },
    ],
    likelihood: { "current-not-following": [0.93, 0.07] },
    other: [0.02, 0.98],
    source: "common practice",
  },
];
