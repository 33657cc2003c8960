import { escapeHtml } from "../../units/text.js";
import type { ReportSource } from "../types.js";
import { madeText, quantityText } from "../wording.js";
import { tableHtml, text } from "./parts.js";

/** How a report was made: versions, settings, stated facts, what was removed. */
export function madeHtml(source: ReportSource): string {
  const lines = [`<li>${text(madeText(source))}</li>`];
  for (const [name, value] of Object.entries(source.settings ?? {}))
    lines.push(`<li>${text(name)}: ${text(value)}</li>`);
  const stated = statedFacts(source);
  const removed = source.removed
    ? `<h3>Removed before sharing</h3>${
        source.removed.length > 0
          ? `<ul>${source.removed.map(({ what, count }) => `<li>${text(what)}: ${count}</li>`).join("")}</ul>`
          : "<p>Nothing was found to remove.</p>"
      }`
    : "";
  return `<ul>${lines.join("\n")}</ul>\n<details><summary>What was stated about motor, drive and encoder</summary>${stated}</details>\n${removed}`;
}

/** What was stated about machine, drive and encoder: the settings behind every number. */
function statedFacts(source: ReportSource): string {
  const words: Readonly<Record<string, readonly [string, string]>> = {
    "machine.polePairs": ["pole pairs of the motor", "1"],
    "machine.resistance": ["phase resistance", "Ohm"],
    "machine.fluxLinkage": ["flux linkage", "Wb"],
    "machine.torqueConstant": ["torque constant", "N.m/A"],
    "machine.inertia": ["inertia", "kg.m2"],
    "machine.ratedCurrent": ["rated current", "A"],
    "drive.busVoltage": ["supply of the drive", "V"],
    "drive.currentLimit": ["current limit", "A"],
    "drive.polePairs": ["pole pairs as set in the drive", "1"],
    "drive.encoderLines": ["encoder lines as set in the drive", "1"],
    "drive.currentBandwidth": ["current loop bandwidth", "rad/s"],
    "encoder.lines": ["encoder lines", "1"],
  };
  const seen = new Map<string, string>();
  for (const { recording } of source.recordings) {
    for (const [key, [label, unit]] of Object.entries(words)) {
      const [group, name] = key.split(".") as ["machine" | "drive" | "encoder", string];
      const value = (recording[group] as Readonly<Record<string, unknown>>)[name];
      if (typeof value !== "number") continue;
      const shown = quantityText(
        value,
        unit,
        Number.isInteger(value) ? Math.max(3, String(value).length) : 4,
      );
      const before = seen.get(label);
      if (before === undefined) seen.set(label, shown);
      else if (!before.split(", ").includes(shown)) seen.set(label, `${before}, ${shown}`);
    }
    const gains = recording.drive.speedLoop;
    if (gains) seen.set("speed loop, parallel form", `kp ${gains.kp} A·s/rad, ki ${gains.ki} A/rad`);
  }
  if (seen.size === 0) return "<p>Nothing was stated about motor, drive or encoder.</p>";
  return tableHtml(
    [{ title: "stated" }, { title: "value", number: true }],
    [...seen].map(([label, value]) => [escapeHtml(label), escapeHtml(value.replace(/^(\d+)\.0+$/, "$1"))]),
    "Stated facts and settings",
  );
}
