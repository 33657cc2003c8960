import { Kept } from "./kept.js";

/** Units that a title may speak of, each by its own word: `Axis trace - rpm, percent`. */
const inTitles: readonly (readonly [RegExp, string])[] = [
  [
    /(?<![\p{L}\p{N}])(rpm|rev\/min|r\/min|u\/min|1\/min|tr\/min|obr\/min|ot\/min|об\/мин)(?![\p{L}\p{N}])/iu,
    "{rev}/min",
  ],
  [/(?<![\p{L}\p{N}])rad\/s(?![\p{L}\p{N}])/iu, "rad/s"],
  [/(?<![\p{L}\p{N}])deg\/s(?![\p{L}\p{N}])|°\/s/iu, "deg/s"],
  [/(?<!\d\s?)(?:(?<!\p{L})(?:percent|prozent)(?!\p{L})|%)/iu, "%"],
  [/(?<![\p{L}\p{N}])mA(?![\p{L}\p{N}])/u, "mA"],
  [/(?<![\p{L}\p{N}])mNm(?![\p{L}\p{N}])/u, "mN.m"],
  [/(?<![\p{L}\p{N}])mm(?![\p{L}\p{N}/])/u, "mm"],
];
const nothing: ReadonlySet<string> = new Set();
const titles = new Kept<ReadonlySet<string>>(50);

/**
 * UCUM codes of the units that the title of a table speaks of.
 *
 * @example
 * unitsInTitle("Axis trace - rpm, percent"); // => Set { "{rev}/min", "%" }
 */
export function unitsInTitle(title: string): ReadonlySet<string> {
  if (title === "" || title.length > 200) return nothing;
  return titles.of(
    title,
    () => new Set(inTitles.filter(([word]) => word.test(title)).map(([, code]) => code)),
  );
}
