/**
 * Times of a report and of charts on the shipped data set: `npx tsx tests/benchmarks/pictures.ts`. The report is whole
 * (reading, judging, constants, drawing), the charts one at a time after a warm-up; both as ratios to the same reading
 * and judging without them.
 */
import { resolve } from "node:path";
import { chartPng, chartSvg, recordingChart } from "../../lib/chart/index.js";
import { diagnose } from "../../lib/diagnosis/index.js";
import { estimateConstants } from "../../lib/identify/index.js";
import { cutTrials, readRecordings } from "../../lib/recording/index.js";
import { makeReport } from "../../lib/report/index.js";
import { type Measurement, median } from "./table.js";

const folder = resolve(import.meta.dirname, "../../datasets/parcel-sorter");

/** Report and chart times. */
export async function pictureTimes(rounds = 5): Promise<Measurement[]> {
  const times: Record<string, number[]> = { judged: [], report: [], svg: [], png: [] };
  const timed = async <T>(name: string, run: () => Promise<T>): Promise<T> => {
    const begun = performance.now();
    const result = await run();
    times[name].push(performance.now() - begun);
    return result;
  };
  let size = 0;
  for (let round = 0; round <= rounds; round += 1) {
    const { inputs, diagnosis } = await timed("judged", async () => {
      const { recordings, problems } = await readRecordings([folder]);
      const read = recordings.map((recording) => ({ recording, trials: cutTrials(recording).trials }));
      return { inputs: read, diagnosis: diagnose(read, { problems, version: "benchmark" }) };
    });
    const { html } = await timed("report", () =>
      makeReport({
        diagnosis,
        recordings: inputs.map((input) => ({
          ...input,
          constants: estimateConstants(input.recording, input.trials),
        })),
        made: "2026-01-01",
      }),
    );
    size = html.length;
    const chart = recordingChart(inputs[0].recording, inputs[0].trials);
    await timed("svg", () => chartSvg(chart));
    await timed("png", async () => chartPng(chart));
    if (round === 0) for (const list of Object.values(times)) list.length = 0;
  }
  const judged = median(times.judged);
  const against = (name: string, what: string, detail: string): Measurement => ({
    what,
    value: median(times[name]) / judged,
    unit: "times reading and judging the data set",
    detail: `${median(times[name]).toFixed(0)} ms${detail}`,
  });
  return [
    against("report", "report of the six shipped recordings", `, ${(size / 1e6).toFixed(1)} MB`),
    against("svg", "one chart of a recording as SVG", ""),
    against("png", "one chart of a recording as PNG", ""),
  ];
}

if (process.argv[1]?.endsWith("pictures.ts"))
  for (const m of await pictureTimes()) console.log(`${m.what}: ${m.value.toPrecision(3)} (${m.detail})`);
