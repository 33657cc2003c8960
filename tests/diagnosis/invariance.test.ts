import { join } from "node:path";
import fc from "fast-check";
import { beforeAll, expect, test } from "vitest";
import { diagnose } from "../../lib/diagnosis/index.js";
import { cutTrials, fromColumns, randomBench, readRecordings } from "../../lib/index.js";
import { seededRandom } from "../../lib/numeric/distributions/seededRandom.js";
import { recordingFromRandomBench } from "../../lib/recording/fromBench.js";
import type { Channel, ChannelRole, Recording } from "../../lib/recording/types.js";

/** Runs of each property; more with `PROPERTY_RUNS=100`. The seed is fixed, so that a failure repeats. */
const numRuns = Number(process.env.PROPERTY_RUNS ?? 3);
const settings = { numRuns, seed: 20261125, endOnFailure: true };

let shipped: readonly Recording[];

beforeAll(async () => {
  const files = ["uvw", "vwu", "vuw"].map((order) =>
    join(import.meta.dirname, `../../datasets/parcel-sorter/order-${order}.csv`),
  );
  shipped = (await readRecordings(files)).recordings;
  expect(shipped).toHaveLength(3);
});

/** What must not change: for each recording its order and, for each trial, kind, verdict and sense; and the orders that
 * may be used. */
function gist(recordings: readonly Recording[]) {
  const diagnosis = diagnose(
    recordings.map((recording) => ({ recording, trials: cutTrials(recording).trials })),
  );
  return {
    trials: diagnosis.recordings.map(({ ordering, trials }) => [
      ordering,
      ...trials.map(({ kind, verdict, sense }) => `${kind} ${verdict} ${sense}`),
    ]),
    usable: diagnosis.orderings.filter(({ usable }) => usable).map(({ ordering }) => ordering),
  };
}

const orderUvw = { usable: ["UVW"] };

/** A recording with every channel's values remade. */
function withData(
  recording: Recording,
  remake: (channel: Channel) => Float64Array,
  time = recording.time,
): Recording {
  const channels = Object.fromEntries(
    Object.entries(recording.channels).map(([role, channel]) => [
      role,
      { ...channel, data: remake(channel) },
    ]),
  );
  return { ...recording, time, channels };
}

const everyKth = (values: Float64Array, k: number, first: number): Float64Array =>
  values.filter((_, i) => i % k === first % k);

/** Everything turned the other way round: what a mirror beside the bench would show. */
const mirrored: ReadonlySet<ChannelRole> = new Set([
  "currentCommand",
  "current",
  "currentU",
  "currentV",
  "currentW",
  "voltageQ",
  "speed",
  "speedCommand",
  "position",
  "positionCommand",
  "torque",
  "torqueCommand",
]);

test("the gist of the shipped recordings is what the other properties hold on to", () => {
  expect(gist(shipped)).toMatchObject(orderUvw);
});

/** The same run logged by a clock that was started at another moment. */
function later(recording: Recording, by: number): Recording {
  const declaredTrials = recording.declaredTrials?.map((trial) => ({
    ...trial,
    start: trial.start + by,
    end: trial.end + by,
  }));
  const time = recording.time.map((t) => t + by);
  return { ...withData(recording, (channel) => channel.data, time), declaredTrials };
}

test("verdicts do not depend on when the clock was started, whether trials are declared or found", () => {
  const found = shipped.map(({ declaredTrials: _, ...recording }) => recording);
  const before = [gist(shipped), gist(found)];
  fc.assert(
    fc.property(fc.double({ min: 0, max: 1, noNaN: true }), (part) => {
      const by = -1e5 + 2e5 * part;
      const after = [shipped, found].map((recordings) => gist(recordings.map((r) => later(r, by))));
      expect(after).toEqual(before);
    }),
    settings,
  );
});

test("verdicts do not depend on the sampling, from every row to every sixth", () => {
  const before = gist(shipped);
  fc.assert(
    fc.property(fc.integer({ min: 2, max: 6 }), fc.nat(5), (k, first) => {
      const thinned = shipped.map((r) =>
        withData(r, (c) => everyKth(c.data, k, first), everyKth(r.time, k, first)),
      );
      expect(gist(thinned)).toEqual(before);
    }),
    settings,
  );
});

test("verdicts do not depend on the side from which the shaft is looked at", () => {
  const before = gist(shipped);
  const other = shipped.map((r) =>
    withData(r, (c) => (mirrored.has(c.role) ? c.data.map((v) => -v) : c.data)),
  );
  expect(gist(other)).toEqual(before);
});

test("verdicts do not depend on the units of the log", async () => {
  const before = gist(shipped);
  const choices: Readonly<Partial<Record<ChannelRole | "time", Readonly<Record<string, number>>>>> = {
    time: { s: 1, ms: 1e3, us: 1e6 },
    currentCommand: { A: 1, mA: 1e3 },
    current: { A: 1, mA: 1e3 },
    speed: {
      "rad/s": 1,
      "{rev}/min": 60 / (2 * Math.PI),
      "deg/s": 180 / Math.PI,
      "{rev}/s": 1 / (2 * Math.PI),
    },
    speedCommand: { "rad/s": 1, "{rev}/min": 60 / (2 * Math.PI), "deg/s": 180 / Math.PI },
    position: { rad: 1, deg: 180 / Math.PI, "{rev}": 1 / (2 * Math.PI) },
  };
  const picked = fc.record(
    Object.fromEntries(
      Object.entries(choices).map(([role, units]) => [role, fc.constantFrom(...Object.keys(units))]),
    ),
  );
  await fc.assert(
    fc.asyncProperty(picked, async (units: Readonly<Record<string, string>>) => {
      const again: Recording[] = [];
      for (const recording of shipped) {
        const scaled = (role: string, data: Float64Array) => {
          const factor = choices[role as ChannelRole]?.[units[role]] ?? 1;
          return data.map((v) => v * factor);
        };
        const columns: Record<string, Float64Array> = { time: scaled("time", recording.time) };
        for (const { role, data } of Object.values(recording.channels)) columns[role] = scaled(role, data);
        const { ordering, motor, machine, drive, encoder, declaredTrials } = recording;
        const options = { unit: units, ordering, motor, machine, drive, encoder };
        again.push({ ...(await fromColumns(columns, options)), declaredTrials });
      }
      expect(gist(again)).toEqual(before);
    }),
    settings,
  );
});

test("verdicts bear more noise: 2 % of the largest current, 2 % of the largest speed, half a count of position", () => {
  const before = gist(shipped);
  const share: Readonly<Partial<Record<ChannelRole, number>>> = { current: 0.02, speed: 0.02 };
  fc.assert(
    fc.property(fc.integer(), fc.double({ min: 0, max: 1, noNaN: true }), (seed, size) => {
      const random = seededRandom(seed);
      const noisy = shipped.map((r) =>
        withData(r, ({ role, data, resolution }) => {
          let largest = 0;
          for (const v of data) if (Math.abs(v) > largest) largest = Math.abs(v);
          const sd = size * (role === "position" ? 0.5 * (resolution ?? 0) : (share[role] ?? 0) * largest);
          return sd === 0 ? data : data.map((v) => v + sd * random.normal());
        }),
      );
      expect(gist(noisy)).toEqual(before);
    }),
    settings,
  );
});

test("synthetic benches: neither the clock nor the mirror changes a verdict", () => {
  fc.assert(
    fc.property(fc.integer({ min: 500_000, max: 599_999 }), fc.integer({ min: -64, max: 64 }), (seed, by) => {
      const made = randomBench(seed);
      const { recording } = recordingFromRandomBench(made, made.torqueProgram);
      const before = gist([recording]);
      expect(gist([later(recording, by)])).toEqual(before);
      const other = withData(recording, (c) => (mirrored.has(c.role) ? c.data.map((v) => -v) : c.data));
      expect(gist([other])).toEqual(before);
    }),
    settings,
  );
});
