import type { Finding, Recording } from "../types.js";

/** A number as a person reads it: four significant digits, no trailing zeros. */
export function shown(value: number): string {
  return String(Number(value.toPrecision(4)));
}

/** A check of one recording: what it found, nothing when all is well. */
export type Check = (recording: Recording) => readonly Finding[];

/** Usual time between samples. */
export function interval(recording: Recording): number {
  const { time } = recording;
  return (time[time.length - 1] - time[0]) / (time.length - 1);
}
