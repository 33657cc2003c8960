import { largest } from "../numeric/series/largest.js";
import type { Trial } from "../recording/types.js";
import type { Run } from "../run/run.js";
import { column } from "../run/trialSignals.js";
import { counterUnwrapped } from "./counterUnwrapped.js";
import { describeBackEmf, handBackEmf } from "./handBackEmf.js";
import type { HandResult } from "./handResult.js";
import { type IndexSeen, judgeIndex } from "./indexPulses.js";
import { short } from "./observe.js";
import type { Evidence } from "./types.js";

/** Judges a turn by hand without current: the sense of the count, the line count, missed counts, and the back-EMF where
 * the voltages show it. */
export function judgeHandTurn(run: Run, trial: Trial): HandResult {
  const logged = column(run, "position", trial);
  const none = { verdict: "undetermined", sense: "none", confidence: 0.9 } as const;
  if (!logged)
    return { ...none, text: "A turn by hand without a position: nothing can be read from it.", evidence: [] };
  const { angle, wrap } = counterUnwrapped(logged);
  const net = angle[angle.length - 1] - angle[0];
  const turns = Math.abs(net) / (2 * Math.PI);
  const turned: Evidence = {
    quantity: "net turn by hand on the drive's scale",
    value: net / (2 * Math.PI),
    unit: "1",
    meaning: net > 0 ? "the position rose" : net < 0 ? "the position fell" : "the position did not change",
  };
  if (Math.abs(net) < 1e-6 && largest(angle.map((v) => v - angle[0])) < 1e-3)
    return {
      ...none,
      text: "The position did not change in a turn by hand: no count arrives. The encoder, its cable or its supply is at fault, or the shaft was not turned.",
      evidence: [turned],
      frozen: true,
    };
  const { encoder, drive, machine } = run.recording;
  const index = lineCount(angle, column(run, "index", trial), turns, drive.encoderLines ?? encoder.lines);
  const emf = handBackEmf(run, trial, angle);
  const told = emf && describeBackEmf(emf, drive.polePairs ?? machine.polePairs);
  const said = [
    ...(wrap === undefined
      ? []
      : [
          `The count ran over the end of its counter (every ${short(wrap / (2 * Math.PI))} turns of the scale); it was put back together.`,
        ]),
    ...(index.said === "" ? [] : [index.said]),
    told?.said ??
      "The sense of the leads cannot be seen from a turn without current unless the voltages are logged while current control holds zero.",
  ];
  return {
    ...none,
    text: `Turned by hand, the position ${net > 0 ? "rose" : "fell"} by ${short(turns)} turns. If that was the turn declared positive (common practice: counter-clockwise seen from the shaft end), ${net > 0 ? "A and B are as they should be" : "A and B are exchanged"}. ${said.join(" ")}`,
    evidence: [turned, ...index.evidence, ...(told ? [told.evidence] : [])],
    ...(emf ? { mismatch: { value: Math.abs(emf.mismatch), error: emf.error } } : {}),
    ...(emf?.offset === undefined ? {} : { offset: { value: emf.offset, error: 0.12 } }),
    lineRatio: index.lineRatio,
    missed: index.missed,
  };
}

/** What is seen of the line count: by the index, or only what one turn would make it. */
function lineCount(
  angle: Float64Array,
  index: Float64Array | undefined,
  turns: number,
  lines: number | undefined,
): IndexSeen {
  if (index) return judgeIndex(angle, index, turns, lines);
  const said =
    lines === undefined
      ? ""
      : `No index was logged: if this was exactly one turn, the line count should be about ${Math.round(lines * turns)} (${lines} is set).`;
  return { said, evidence: [], missed: false };
}
