import { readFile } from "node:fs/promises";
import type { JudgeFile } from "../../../lib/study/pipeline/recordingResult.js";

/**
 * A job for the tests of the machinery: a file of one line of words decides what happens. `motor kv friction`; `bad` is
 * a file that cannot be judged, `throw` raises, `exit` ends its process, `end` the whole study, `hang` never ends. Each
 * judging takes `STUDY_TEST_DELAY` ms and leaves a line in
 * `STUDY_TEST_TALLY`, so that a test can count what was judged.
 */
export const judge: JudgeFile = async (path) => {
  const text = (await readFile(path, "utf8")).trim();
  const { STUDY_TEST_TALLY: tally, STUDY_TEST_DELAY: delay } = process.env;
  if (tally) (await import("node:fs")).appendFileSync(tally, `${path.split("/").at(-1)}\n`);
  if (delay) await new Promise((wake) => setTimeout(wake, Number(delay)));
  if (text === "bad")
    return { recordings: [], reason: "row 1, column 1: a word was found where a time was looked for" };
  if (text === "throw") throw new Error("thrown by the job");
  if (text === "exit") process.exit(7);
  if (text === "end") process.kill(process.ppid, "SIGKILL");
  if (text === "hang") await new Promise(() => setInterval(() => {}, 1000));
  const [motor, kv, friction] = text.split(" ");
  return {
    reason: null,
    recordings: [
      {
        motor: motor === "-" ? null : motor,
        ordering: "UVW",
        part: null,
        rows: 1000,
        trials: [
          {
            kind: "torque",
            start: 0,
            end: 4.5,
            verdict: "tracking",
            confidence: 0.97,
            sense: "with",
            cause: "none",
            causeOdds: 0.9,
            forecast: "tracking",
            text: "It turned.",
          },
        ],
        constants: {
          kv: [Number(kv), Number(kv) - 1, Number(kv) + 1],
          coulombFriction: [Number(friction), Number(friction) * 0.9, Number(friction) * 1.1],
        },
        about: {},
        findings: [],
      },
    ],
  };
};
