/** The scale of a probe or monitor output that a label states, `50 mV/A` or `1 V/1000 rpm`, as volts for one unit. */
export function scaleIn(label: string): string | undefined {
  const m = /(\d[\d.]*)\s*(m?)V\s*(?:\/|per)\s*(\d*)\s*(m?A|N\.?m|k?rpm|rev\/min|min-1)\b/i.exec(label);
  if (m === null) return undefined;
  const [, volts, milli, many, of] = m;
  const unit = /^(rev\/min|min-1)$/i.test(of) ? "rpm" : of;
  return `${many === "" ? volts : Number(volts) / Number(many)} ${milli}V/${unit}`;
}
