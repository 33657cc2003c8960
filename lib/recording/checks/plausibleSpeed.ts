import { median } from "../../numeric/series/median.js";
import type { Finding, Recording } from "../types.js";
import { shown } from "./common.js";

/**
 * rad/s above which a speed is one of a wrong unit: 300,000 rev/min. The rim of a steel rotor of 20 mm moves at 310 m/s
 * there, near where it bursts (hoop stress rho*v^2 of a thin ring, 760 MPa at 7850 kg/m3); dental turbines and the
 * smallest turbo-machines reach it.
 */
const fastest = 300_000 * ((2 * Math.PI) / 60);

/** A logged speed, held for a while, that no shaft reaches. */
export function plausibleSpeed(recording: Recording): Finding[] {
  const { speed } = recording.channels;
  if (speed === undefined || speed.data.length < 20) return [];
  let fast = 0;
  for (let i = 0; i < speed.data.length; i += 1) if (Math.abs(speed.data[i]) > fastest) fast += 1;
  if (fast < Math.max(10, 0.01 * speed.data.length)) return [];
  const usual = median(speed.data.filter((v) => Math.abs(v) > fastest).map(Math.abs));
  return [
    {
      severity: "error",
      code: "speed-implausible",
      message: `the speed is about ${shown(usual * (60 / (2 * Math.PI)))} rev/min for ${fast} samples: no shaft turns so fast`,
      value: usual,
      unit: "rad/s",
      meaning: "its unit is not the declared one; state it",
      file: recording.path,
      column: speed.name,
    },
  ];
}
