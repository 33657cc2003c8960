import type { ReadOptions } from "../../recording/columns/readOptions.js";
import type { ScaleDecision } from "../../run/scaleDecision.js";
import type { StudySettings } from "./recordingResult.js";

/** The setting of a study that holds what was stated about its files. */
const name = "reading";
/** That of one file which holds what its motor's logs show together of its scales. */
const scalesName = "scales";

/**
 * Settings of a study whose files are read with these options. Limits are no part of them: they change no result.
 *
 * @example
 * settingsOf({ rate: 1000 }); // => { reading: '{"rate":1000}' }
 */
export function settingsOf({ limits: _, ...reading }: ReadOptions): StudySettings {
  const said = Object.entries(reading).filter(
    ([, value]) =>
      value !== undefined && !(typeof value === "object" && Object.keys(value as object).length === 0),
  );
  return said.length === 0 ? {} : { [name]: JSON.stringify(Object.fromEntries(said)) };
}

/** The reverse: how the files of a study with these settings are read. */
export function readingOf(settings: StudySettings): ReadOptions {
  const said = settings[name];
  if (typeof said !== "string") return {};
  const reading = JSON.parse(said) as ReadOptions;
  // JSON has no word for the end of a log that is left open.
  const kinds = reading.kinds?.map(({ kind, start, end }) => ({
    kind,
    start: start ?? Number.NEGATIVE_INFINITY,
    end: end ?? Number.POSITIVE_INFINITY,
  }));
  return kinds === undefined ? reading : { ...reading, kinds };
}

/** What is decided of the scale of each recording of a file, in their order. */
export type FileScales = readonly (ScaleDecision | undefined)[];

/** Settings with what is decided of the scales of one file. */
export function withScales(settings: StudySettings, scales: FileScales): StudySettings {
  return { ...settings, [scalesName]: JSON.stringify(Array.from(scales, (one) => one ?? null)) };
}

/** The reverse; empty where each recording decides for itself. */
export function scalesOf(settings: StudySettings): FileScales {
  const said = settings[scalesName];
  if (typeof said !== "string") return [];
  return (JSON.parse(said) as (ScaleDecision | null)[]).map((one) => one ?? undefined);
}
