import { unitCode } from "../../units/unitCode.js";

/**
 * Splits a column heading into the name and the unit written in it: `speed [rpm]`, `i_q (A)`, `pos/counts`, `t, s`,
 * `speed_rpm`. The unit is returned as spelled; undefined when the heading says none.
 *
 * @example
 * nameAndUnit("i_q (A)"); // { name: "i_q", unit: "A" }
 */
export function nameAndUnit(heading: string): { readonly name: string; readonly unit?: string } {
  const text = heading.trim();
  // No heading is that long; the patterns below take time with the square of the length.
  if (text.length > 300) return { name: text };
  const bracketed = /^(.*)[[({<]\s*([^\])}>[({<]*?)\s*[\])}>]\s*$/s.exec(text);
  if (bracketed !== null && bracketed[1] !== "") {
    return { name: bracketed[1].trim(), unit: bracketed[2] === "" ? "1" : bracketed[2] };
  }
  // "Speed 1/min", "omega rad/s", "Drehzahl in 1/s", "km/h": the slash stands within the unit.
  const rate =
    /^(.*?)(?:^|[_\s,:]\s*|\sin\s+)((?:1|km|mm|cm|m|[mk]?rad|[mcd]?deg|°|rev|turns?|r|u|umdr|tr|rot|counts?|cnts?|ticks?|inc|pulses?)\/(?:s|sec|min|h))$/i.exec(
      text,
    );
  if (rate !== null) return { name: rate[1].replace(/\s+in$/i, "").trim() || text, unit: rate[2] };
  const slash = /^(.+?)\s*\/\s*([^/].*)$/s.exec(text);
  if (slash !== null && unitCode(slash[2]) !== undefined)
    return { name: slash[1].trim(), unit: slash[2].trim() };
  const word = /^(.+?)(?:\s+in\s+|\s*[,;:]\s*)(\S+)$/s.exec(text);
  if (word !== null && unitCode(word[2]) !== undefined) return { name: word[1].trim(), unit: word[2] };
  const tail = /^(.+?)[_ .-]([^_ .-]+(?:[_/](?:s|min|sec))?)$/s.exec(text);
  if (tail !== null && tail[2] === "s" && /^(t|time|zeit|temps|tiempo|tempo|clock)$/i.test(tail[1])) {
    return { name: tail[1], unit: "s" };
  }
  if (tail !== null && isSafeTail(tail[2])) return { name: tail[1], unit: tail[2].replace("_", "/") };
  const camel = /^(.*[a-z0-9])(Rpm|RPM|Deg|Rad|Counts|Ms|Us|Nm|Amps|Volts|Ma|Mv)$/.exec(text);
  if (camel !== null) return { name: camel[1], unit: camel[2].toLowerCase() };
  return { name: text };
}

/** Unit endings that are not also endings of names: `iq_a` is phase a as likely as ampere, `speed_rpm` is plain. */
function isSafeTail(tail: string): boolean {
  return /^(rpm|krpm|rps|rads?|deg|degrees|counts?|cnts?|ticks|ms|us|ns|sec|seconds|ma|mv|nm|mnm|amps?|volts?|rad[_/]s|deg[_/]s|rev[_/]min|r[_/]min|u[_/]min|turns|revs?|revolutions)$/i.test(
    tail,
  );
}
