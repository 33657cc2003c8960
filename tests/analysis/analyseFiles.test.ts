import { expect, test } from "vitest";
import { analyseFiles, cutTrials, diagnose, diagnoseFiles, readRecordings } from "../../lib/index.js";

const paths = ["datasets/parcel-sorter", "datasets/no-such-file.csv", "package.json"];

test("file by file, on one thread or on two, the diagnosis is that of reading, cutting and judging all at once", async () => {
  const { recordings, problems } = await readRecordings(paths);
  const inputs = recordings.map((recording) => ({ recording, trials: cutTrials(recording).trials }));
  const whole = diagnose(inputs, { problems, wanted: "clockwise" });
  expect(whole.recordings).toHaveLength(6);
  expect(whole.problems.map((problem) => problem.severity)).toContain("error");
  const heard: number[] = [];
  const one = await diagnoseFiles(paths, {
    threads: 1,
    wanted: "clockwise",
    progress: (done, total) => heard.push(done, total),
  });
  expect(one).toEqual(whole);
  expect(heard).toEqual([1, 7, 2, 7, 3, 7, 4, 7, 5, 7, 6, 7, 7, 7]);
  const two = await diagnoseFiles(paths, { threads: 2, wanted: "clockwise" });
  expect(two).toEqual(whole);
});

test("priors and what is stated about the files reach the threads", async () => {
  const options = { reading: { motor: "M1" }, priors: { jam: 0.9 } } as const;
  const one = await diagnoseFiles(["datasets/parcel-sorter"], { ...options, threads: 1 });
  const two = await diagnoseFiles(["datasets/parcel-sorter"], { ...options, threads: 2 });
  expect(two).toEqual(one);
  expect(new Set(two.recordings.map(({ motor }) => motor))).toEqual(new Set(["M1"]));
});

test("without verdicts the loop, the findings and what stands first are the same, and no trial is judged", async () => {
  const logs = ["datasets/parcel-sorter/order-uvw.csv", "datasets/field/gearmotor-432-counts"];
  const loop = { settings: {}, gains: { form: [] }, withoutProposals: true };
  const judged = await analyseFiles(logs, { parts: { loop } });
  const bare = await analyseFiles(logs, { parts: { loop, verdicts: false } });
  expect(judged.recordings.length).toBeGreaterThan(0);
  expect(judged.recordings.flatMap(({ verdicts }) => verdicts.trials).length).toBeGreaterThan(0);
  expect(bare.recordings.flatMap(({ verdicts }) => verdicts.trials)).toEqual([]);
  const said = ({ loop: its, verdicts }: (typeof judged.recordings)[number]) => ({
    loop: its,
    findings: verdicts.findings,
    attention: verdicts.attention,
  });
  expect(bare.recordings.map(said)).toEqual(judged.recordings.map(said));
  expect(bare.problems).toEqual(judged.problems);
});
