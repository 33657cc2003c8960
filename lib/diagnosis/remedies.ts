import { percent } from "./observe.js";
import { type CauseCode, causeByCode, type RemedyCode, remedies } from "./tables/causes.js";
import { thresholds } from "./tables/thresholds.js";
import type { RemedyProbability } from "./types.js";

/** Causes added up by what has to be done, the likeliest remedy first. */
export function remediesOf(posterior: ReadonlyMap<CauseCode, number>): RemedyProbability[] {
  const groups = new Map<RemedyCode, [CauseCode, number][]>();
  for (const [code, p] of posterior) {
    const remedy = causeByCode.get(code)?.remedy ?? "look";
    groups.set(remedy, [...(groups.get(remedy) ?? []), [code, p]]);
  }
  return [...groups]
    .map(([remedy, list]) => {
      list.sort((a, b) => b[1] - a[1]);
      const probability = Math.min(
        1,
        list.reduce((sum, [, p]) => sum + p, 0),
      );
      const open = openWithin(list, probability);
      return {
        remedy,
        probability,
        text: remedyText(remedy, posterior),
        causes: list.map(([code]) => code as string),
        ...(open ? { open } : {}),
      };
    })
    .sort((a, b) => b.probability - a.probability);
}

/** The change in words. By how much an offset is to be turned is said only where nothing else than half a turn is
 * left. */
function remedyText(remedy: RemedyCode, posterior: ReadonlyMap<CauseCode, number>): string {
  const text = remedies[remedy];
  if (remedy !== "align") return text;
  const of = (code: CauseCode): number => posterior.get(code) ?? 0;
  const third = of("stale-offset-plus") + of("stale-offset-minus");
  const { value } = thresholds.excluded;
  const half = of("half-turn-offset");
  const alone = half > 0.5 && third < value * half && of("disturbed-offset") < value * half;
  return alone ? `${text}, or turn the offset by 180 electrical degrees` : text;
}

/** What is left open among causes that share a remedy. */
function openWithin(list: readonly [CauseCode, number][], whole: number): string | undefined {
  const shown = list.filter(([, p]) => p > thresholds.listed.value * whole && p > 0.02);
  if (shown.length < 2) return undefined;
  return `${shown.map(([code, p]) => `${shortText(code)} ${percent(p)}`).join(", ")}: which of them is open`;
}

/** A cause in a few words, for lists; `still` where the shaft did not move at all, which only an offset near 90 deg can
 * bring about. */
export function shortText(code: CauseCode, still = false): string {
  if (still && code === "disturbed-offset") return "an offset near 90 deg from a disturbed alignment";
  return causeByCode.get(code)?.short ?? code;
}

/** `Repeat the alignment ...: 93 %; offset +120 deg 50 %, offset 180 deg 43 %: which of them is open` */
export function remedySentence({ text, probability, open }: RemedyProbability): string {
  return `${capital(text)}: ${percent(probability)}${open ? ` (${open})` : ""}.`;
}

/** A sentence begins with a capital. */
export function capital(text: string): string {
  return text ? `${text[0].toUpperCase()}${text.slice(1)}` : text;
}
