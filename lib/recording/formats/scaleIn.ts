/** The scale of a probe or monitor output that a label states, `50 mV/A` or `1 V/1000 rpm`, as volts for one unit, or
 * (`3.3 V per 100 rad/s`) as what they stand for. */
export function scaleIn(label: string): string | undefined {
  const m =
    /(\d[\d.]*)\s*(m?)V\s*(?:\/|per|pro|je|pour|por|=|≙)\s*(\d*)\s*(m?A|N\.?m|rad\/s|k?rpm|rev\/min|r\/min|U\/min|min-1)(?![\w/])/i.exec(
      label,
    );
  if (m === null) return undefined;
  const [, volts, milli, many, of] = m;
  if (/^rad/i.test(of)) return `${volts} ${milli}V = ${many === "" ? "1" : many} rad/s`;
  const unit = /^(rev\/min|r\/min|U\/min|min-1)$/i.test(of) ? "rpm" : of;
  return `${many === "" ? volts : Number(volts) / Number(many)} ${milli}V/${unit}`;
}

/** Shortest word that a remark and a heading may have in common to speak of one thing. */
const shortest = 4;
const wordsIn = (text: string): readonly string[] =>
  (text.toLowerCase().match(/\p{L}+/gu) ?? []).filter((w) => w.length >= shortest && w !== "motor");

/**
 * Scales that remarks state of columns by a word of their heading (`tacho 3.34 V per 100 rad/s` above `Tacho(V)`);
 * undefined for a column without one, and where a remark may speak of two columns.
 *
 * @param names headings of the columns
 * @param remarks the lines above
 */
export function scalesInRemarks(
  names: readonly string[],
  remarks: readonly string[],
): readonly (string | undefined)[] {
  const out = names.map((): string | undefined => undefined);
  for (const remark of remarks) {
    const scale = remark.length > 200 ? undefined : scaleIn(remark);
    if (scale === undefined) continue;
    const said = new Set(wordsIn(remark));
    const meant = names.flatMap((n, k) => (wordsIn(n).some((w) => said.has(w)) ? [k] : []));
    if (meant.length === 1) out[meant[0]] ??= scale;
  }
  return out;
}
