/** What is measured and how it is weighed does not depend on when the clock was started, nor where the count began. */
import { expect, test } from "vitest";
import { readRun } from "../../lib/diagnosis/readRun.js";
import type { Channel, ChannelRole, Recording } from "../../lib/recording/types.js";
import { Run } from "../../lib/run/run.js";
import { bench, type Case, rig } from "../answers/cases.js";
import { differences } from "../house/alike.js";
import { shifted } from "../house/laterClock.js";

const cases: readonly Case[] = [
  bench(1204, "none", "hand"),
  bench(1206, "jam", "torque"),
  bench(1207, "none", "position"),
  bench(1208, "encoder-stuck", "speed"),
  ...[1210, 1211, 1212, 1213, 1214, 1215].map(rig),
];

/** Radians: no whole number of turns, and a power of two, so that angles keep most of their digits. */
const begun = 64;

function countedFrom(recording: Recording): Recording {
  const moved = (role: ChannelRole): Record<string, Channel> => {
    const channel = recording.channels[role];
    return channel === undefined ? {} : { [role]: { ...channel, data: channel.data.map((v) => v + begun) } };
  };
  return {
    ...recording,
    channels: { ...recording.channels, ...moved("position"), ...moved("positionCommand") },
  };
}

/** Of every trial: what the shaft did, its measures, and what each finding says of the causes. */
function weighed(recording: Recording) {
  return readRun(new Run(recording)).trials.map(({ observation, measures, likelihood, hand }) => {
    const { behaviour, verdict, confidence, sense, growth } = observation;
    const findings = likelihood?.findings.map(({ finding, logs }) => ({ finding, logs }));
    return { behaviour, verdict, confidence, sense, growth, measures, findings, hand };
  });
}

for (const one of cases)
  test(`${one.name}: the same findings, whenever the clock and wherever the count began`, async () => {
    const [recording] = (await one.give()).recordings;
    const before = weighed(recording);
    expect(before.length).toBeGreaterThan(0);
    expect(differences(before, weighed(shifted(recording)), { within: 1e-4 })).toEqual([]);
    // Which level of a position command is rest depends on its zero; what follows from it is asked of torque trials.
    const except = ["firstTravel", "pulsation", "followed"];
    expect(differences(before, weighed(countedFrom(recording)), { within: 1e-4, except })).toEqual([]);
  });
