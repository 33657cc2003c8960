import { expect, test } from "vitest";
import { cutTrials, diagnose, diagnoseFiles, readRecordings } from "../../lib/index.js";

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
