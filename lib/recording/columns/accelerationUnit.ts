const angles: Readonly<Record<string, string>> = {
  rad: "rad/s2",
  rads: "rad/s2",
  radian: "rad/s2",
  radians: "rad/s2",
  рад: "rad/s2",
  deg: "deg/s2",
  degree: "deg/s2",
  degrees: "deg/s2",
  "°": "deg/s2",
  grad: "deg/s2",
  град: "deg/s2",
  rev: "{rev}/s2",
  revs: "{rev}/s2",
  turn: "{rev}/s2",
  turns: "{rev}/s2",
  rot: "{rev}/s2",
  tr: "{rev}/s2",
  u: "{rev}/s2",
  umdr: "{rev}/s2",
  r: "{rev}/s2",
  об: "{rev}/s2",
  "1": "{rev}/s2",
  count: "{count}/s2",
  counts: "{count}/s2",
  cnt: "{count}/s2",
  inc: "{count}/s2",
  ink: "{count}/s2",
  tick: "{count}/s2",
  ticks: "{count}/s2",
  imp: "{count}/s2",
  m: "m/s2",
  м: "m/s2",
  cm: "cm/s2",
  mm: "mm/s2",
  мм: "mm/s2",
};

/**
 * Code of a unit of acceleration as people write it: of a shaft (`rad/s^2`, `°/s²`, `U/s²`, `rpm/s`) or of what it
 * moves (`m·s⁻²`, `mm/s/s`); undefined for any other text.
 *
 * @example
 * accelerationUnit("rad_s2"); // => "rad/s2"
 */
export function accelerationUnit(text: string): string | undefined {
  const plain = text
    .toLowerCase()
    .replace(/\s+/g, "")
    .replace(/⁻²|\^?\(?[-−]2\)?$/g, "-2")
    .replace(/²|\^2|\*\*2|_?sq(uared|\.)?$/g, "2")
    .replace(/_?per_?/g, "/")
    .replace(/сек|с/g, "s")
    .replace(/sec/g, "s");
  if (plain.length > 20) return undefined;
  if (/^([ur]|rev|umdr|tr|ot|obr?|об|1)?\.?\/min\/s$|^rpm[/_.]?s$|^min-1\/s$|^rpmps$/.test(plain))
    return "{rev}/min/s";
  const found =
    /^(.+?)(?:[/_]s\*?\*?2|[/_]s\/s|[/_]\(s2\)|[.·*]s-2|ps2|s-2|\/s\*s)$/.exec(plain) ??
    /^(rad|deg|rev|m)(?:s2)$/.exec(plain);
  return found !== null && Object.hasOwn(angles, found[1]) ? angles[found[1]] : undefined;
}
