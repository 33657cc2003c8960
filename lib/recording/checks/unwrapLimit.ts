import { largest } from "../../numeric/series/largest.js";
import type { Finding, Recording } from "../types.js";
import { interval, shown } from "./common.js";

/** A wrapped position can be followed up to half a wrap per sample: above that speed no method knows which way it
 * went. */
export function unwrapLimit(recording: Recording): Finding[] {
  const position = recording.channels.position;
  const speed = recording.channels.speed;
  if (position?.wrap === undefined || speed === undefined) return [];
  const dt = interval(recording);
  const limit = position.wrap / (2 * dt);
  const top = largest(speed.data);
  if (!(top > 0.9 * limit)) return [];
  return [
    {
      severity: "error",
      code: "unwrap-impossible",
      message: `the logged speed reaches ${shown(top)} rad/s, and a position that wraps every ${shown(position.wrap)} rad, sampled every ${shown(dt)} s, can only be followed up to ${shown(limit)} rad/s`,
      value: top / limit,
      unit: "1",
      meaning:
        "above that the unwrapped position is a guess: sample faster, or log a wider counter; position evidence is worthless there",
      file: recording.path,
      column: position.name,
    },
  ];
}
