import { wordsOf } from "./foldedWords.js";
import { known, meaningOf, partsOf } from "./lexicon.js";

/** How wide a number is, before its name: `u32Tick`, `s16SpeedRef`, `f32Iq` (common practice, no source). */
const widths = /(^|[^\p{L}\p{N}])[usif](?:8|16|32|64)_?(?=\p{L})/gu;

/** Letters by which programs of machine controls say the type of a variable: `rActSpeed`, `nTorque`, `lrPosition`
 * (common practice, no source). */
const typeLetters = /(^|[^\p{L}\p{N}])(?:r|f|n|b|x|i|u|w|s|lr|di|ui|dw|fl|st)(?=\p{Lu}\p{Ll})/gu;

/** Words of a heading. Type letters are left out where the rest names a quantity by itself. */
export function wordsOfName(given: string): string[] {
  // The letter of this bus is no current; `th_e` is an angle of the field; `idq15` is in Q15.
  const heading = given
    .replace(widths, "$1")
    .replace(/(?<![\p{L}\p{N}])i2c(?![\p{L}\p{N}])/giu, "uart")
    .replace(/(?<![\p{L}\p{N}])th[_. ]el?(?![\p{L}\p{N}])/giu, "thetae")
    .replace(/(?<=\p{L}{2})q(?=(?:15|31)$)/iu, " q");
  const own = wordsOf(heading);
  // A joint's `q_d` is the position that is desired.
  const words = expanded(own.join(" ") === "q d" ? ["q", "des"] : own);
  const rest = heading.replace(typeLetters, "$1");
  if (rest === heading) return words;
  const others = expanded(wordsOf(rest));
  const names = others.some((w) => {
    const meaning = meaningOf(w);
    return (
      meaning !== undefined &&
      meaning.rank > 2 &&
      meaning.alternatives.some((a) => a.quantity !== undefined && a.weight > 0.8)
    );
  });
  return names ? others : words;
}

/** Words taken apart where they are written together, neighbours put together where they are one word (`i q`, `set
 * point`). */
function expanded(words: readonly string[]): string[] {
  const out: string[] = [];
  for (let i = 0; i < words.length; i += 1) {
    const pair = i + 1 < words.length ? words[i] + words[i + 1] : undefined;
    const joins =
      pair !== undefined &&
      (words[i + 1].length === 1 ? known(pair) : meaningOf(pair)) !== undefined &&
      !/\p{N}/u.test(pair) &&
      pair !== "qd" &&
      (words[i].length === 1 ||
        meaningOf(words[i]) === undefined ||
        meaningOf(words[i + 1]) === undefined ||
        compound(pair, words[i], words[i + 1]) ||
        joined.has(pair));
    if (joins && pair !== undefined) {
      out.push(pair);
      i += 1;
    } else out.push(...(partsOf(words[i]) ?? [words[i]]));
  }
  return out;
}

/** A term of two words that stands in a table as one: `kąt obrotu`, `коэффициент заполнения`. */
function compound(pair: string, first: string, second: string): boolean {
  return first.length >= 3 && second.length >= 3 && known(pair) !== undefined;
}

/** Pairs that are one word although each half is a word too. */
const joined = new Set(
  "setpoint fluxcur fluxcurrent closedloop openloop escsignal pulsewidth dclink dcbus dutycycle dutyratio modulationindex inposition inpos intarget ontarget attarget atspeed partno loopcount cyclecount timestep phiel phie vmotor umotor imotor nmotor wmotor tmotor inputcurrent inputvoltage currentin voltagein amphours watthours fieldcurrent fieldvoltage serialnumber serialno pterm iterm dterm ppart ipart dpart controlleroutput controlsignal controleffort regleroutput reglerausgang thetaelectrical timestamp errorcode statusword indexpulse zpulse testid runid motorid leadorder phaseorder thetae anglee electricalangle elangle elecangle sweepangle alignangle fieldangle thetadot qdot".split(
    " ",
  ),
);
