/** A heading that only numbers its channel. */
export const channelNumber = /^(ch|chan|channel|kanal|canal|voie|trace|input|通道)?[ _-]?([A-H]|\d{1,2})$/i;

/** The word of a channel in a remark may be another than that of the heading: `Kanal 2` above `CH2`. */
const words = "(?:ch|chan|channel|kanal|canal|voie|trace|input|通道)";

/** A heading that is the number of a register or an address, with few letters before it: `R20`, `P0x11`, `D100`,
 * `40001`, `N7:0`. */
export const registerNumber = /^(?=.*\d)[A-Z]{0,3}[ _.:%#]?(?:0x)?[0-9A-F]{1,6}(?:[.:][A-Z]{0,3}\d{1,4})?$/i;
/** So many registers at least are described where a legend is taken for one. */
const fewestRegisters = 2;

/** Longest description of a channel; a longer text is a report. */
const longest = 60;
/** Remarks looked at, and the longest of them: patterns are tried on each for each channel. */
const looked = { lines: 60, length: 400 };

/** Words that say how a channel is measured and not what: no description by themselves. */
const ofSetting =
  /^(?:coupling|probe|volts?|millivolts?|scale|offset|position|bandwidth|limit|full|invert(?:ed)?|units?|div|source|channels?|delay|skew|range|impedance|meg|ohms?|on|off|auto|yes|no|none|true|false)$/i;

/**
 * What the lines above a table say of channels that its heading only numbers: `CH1 armature current, CH2 tacho`,
 * `Kanal 2: Drehzahl`, and of registers: `R20 = speed 1/min, R21 = motor current 0.01 A`. Undefined for a column whose heading is a name of its own, and for one that no line describes.
 *
 * @param names headings of the columns
 * @param remarks the lines above
 * @example
 * labelsOfChannels(["TIME", "CH1", "CH2"], ["CH1 motor current, CH2 tacho"]); // [undefined, "motor current", "tacho"]
 */
export function labelsOfChannels(
  names: readonly string[],
  remarks: readonly string[],
): readonly (string | undefined)[] {
  const few = remarks.slice(0, looked.lines).filter((r) => r.length <= looked.length);
  const spelled = names.map((n) => {
    const found = channelNumber.exec(n.trim());
    // A bare number or letter stands for a channel where the word is beside it.
    return found?.[1] === undefined ? undefined : `${words}[ _-]?0?${found[2]}`;
  });
  if (few.length === 0) return names.map(() => undefined);
  const channels = described(spelled, few);
  const told = (name: string): boolean => few.some((r) => r.includes(name));
  const registers = described(
    names.map((n, i) => {
      const name = n.trim();
      return spelled[i] === undefined && registerNumber.test(name) && told(name) ? escaped(name) : undefined;
    }),
    few,
  );
  const legend = registers.filter((label) => label !== undefined).length >= fewestRegisters;
  const short = shortNames(names, few);
  return channels.map((label, i) => label ?? (legend ? registers[i] : undefined) ?? short[i]);
}

/** Longest name that says little by itself, and how many of them, in number and part, a list must explain. */
const abbreviation = { longest: 3, fewest: 2, part: 0.6 };

/** Signs of a remark before its text. */
const mark = /^[\s#%;/*"'!-]+/;

/**
 * What remarks say of columns with names of a few letters, in lists whose items begin with them: `T ms, D percent, E
 * encoder ticks`, or one to a line. The name stands before what is said of it.
 */
function shortNames(names: readonly string[], remarks: readonly string[]): readonly (string | undefined)[] {
  const short = names.map((name) => name.trim());
  const asked = short.filter(
    (name) => /^\p{L}/u.test(name) && name.length <= abbreviation.longest && !/^ch\d|^ch$/i.test(name),
  );
  if (asked.length === 0) return names.map(() => undefined);
  const known = new Map<string, string>();
  for (const remark of remarks)
    for (const item of remark.replace(mark, "").split(/[,;|\t]\s*(?![^(]*\))/)) {
      const [, name = "", text = ""] =
        /^\s*(\S{1,3}?)(?:\s*[:=]\s*|\s+-+\s+|\s+)(\S.*?)[\s.]*$/u.exec(item) ?? [];
      const tells = asked.includes(name) && text.length <= longest && /^[(]?[\p{L}%°]/u.test(text);
      if (tells && !known.has(name)) known.set(name, `${name} ${text}`);
    }
  const enough = Math.max(abbreviation.fewest, abbreviation.part * asked.length);
  return known.size < enough ? names.map(() => undefined) : short.map((name) => known.get(name));
}

const escaped = (text: string): string => text.replace(/[.*+?^${}()|[\]\\/]/g, "\\$&");

/** What the remarks say of each of these, spelled as patterns. */
function described(
  spelled: readonly (string | undefined)[],
  remarks: readonly string[],
): readonly (string | undefined)[] {
  const others = spelled.filter((s) => s !== undefined).join("|");
  return spelled.map((own) => {
    if (own === undefined) return undefined;
    const said = new RegExp(
      `(?:^|[\\s,;#%(|"'])(?:${own})(?![\\w])\\s*(?:[:=,;\\t]|[-–—>]+)?\\s*(.+?)\\s*(?=,(?!\\d)|[;|\\t)"]|(?:\\s|\\band\\b)+(?:${others})(?!\\w)|$)`,
      "iu",
    );
    for (const remark of remarks) {
      const label = said.exec(remark)?.[1];
      if (label !== undefined && describes(label, others)) return label;
    }
    return undefined;
  });
}

/** A text of words, with more in it than how the channel is set. */
function describes(text: string, channels: string): boolean {
  if (text.length > longest || new RegExp(`^(?:${channels})$`, "i").test(text)) return false;
  const said = text.match(/\p{L}{2,}/gu) ?? [];
  return said.some((w) => w.length >= 3 && !ofSetting.test(w));
}
