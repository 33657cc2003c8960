import { caseColors, caseDashes } from "./marks/palette.js";
import { said } from "./marks/says.js";
import { short, thin } from "./marks/thin.js";
import { type Chart, type ChartOptions, chart } from "./render/spec.js";

/** One open loop. */
export interface BodeCase {
  readonly label: string;
  /** rad/s. */
  readonly frequency: ArrayLike<number>;
  /** dB. */
  readonly magnitude: ArrayLike<number>;
  /** Degrees, unwrapped. */
  readonly phase: ArrayLike<number>;
  /** Frequency at which the gain is one (rad/s) and the phase margin there (degrees). */
  readonly crossover?: number;
  readonly phaseMargin?: number;
  /** Frequency at which the phase is -180 degrees (rad/s) and the gain margin there (dB). */
  readonly phaseCrossover?: number;
  readonly gainMargin?: number;
}

/**
 * Gain and phase of open loops against frequency, with the margins marked.
 *
 * @example
 * const frequency = [10, 100, 1000]; // rad/s
 * bodeChart([{ label: "measured gains", frequency, magnitude: [20, 0, -20], phase: [-95, -118, -160], crossover: 100, phaseMargin: 62 }]);
 */
export function bodeChart(cases: readonly BodeCase[], options: ChartOptions = {}): Chart {
  const width = options.width ?? 560;
  const labels = cases.map((one) => one.label);
  const values = cases.flatMap((one) =>
    // Stretches of equal width on the logarithmic axis.
    Array.from(thin(Array.from(one.frequency, Math.log), [one.magnitude, one.phase], 160), (i) => ({
      f: short(one.frequency[i], 4),
      m: short(one.magnitude[i], 4),
      p: short(one.phase[i], 4),
      k: one.label,
    })),
  );
  const x = (labelled: boolean) => ({
    field: "f",
    type: "quantitative",
    title: labelled ? "Frequency (rad/s)" : null,
    scale: { type: "log", nice: false },
    axis: { grid: true, labels: labelled, format: "~g", tickCount: 5 },
  });
  const color = {
    field: "k",
    scale: { domain: labels, range: caseColors.slice(0, labels.length) },
    legend: cases.length > 1 ? {} : null,
  };
  const dash = {
    field: "k",
    scale: { domain: labels, range: caseDashes.slice(0, labels.length) },
    legend: cases.length > 1 ? {} : null,
  };
  const prefix = (one: BodeCase) => (cases.length > 1 ? `${one.label}: ` : "");
  const margin = (
    at: "crossover" | "phaseCrossover",
    from: (one: BodeCase) => number,
    to: number,
    text: (one: BodeCase) => string,
    field: string,
    labelled: boolean,
  ) =>
    cases.flatMap((one, i) => {
      const f = one[at];
      if (f === undefined || !Number.isFinite(f)) return [];
      const row = { f: short(f, 4), a: short(from(one), 4), b: to, text: text(one) };
      return [
        {
          data: { values: [row] },
          mark: { type: "rule", strokeWidth: 3, color: caseColors[i % caseColors.length] },
          encoding: {
            x: x(labelled),
            y: { field: "a", type: "quantitative", title: field },
            y2: { field: "b" },
          },
        },
        {
          data: { values: [row] },
          mark: {
            type: "text",
            style: "strong",
            align: "left",
            baseline: "bottom",
          },
          encoding: {
            x: { value: 8 },
            y: { value: (options.height ?? 180) - 6 - 17 * (cases.length - 1 - i) },
            text: { field: "text" },
          },
        },
      ];
    });
  return chart(
    {
      data: { values },
      vconcat: [
        {
          width,
          height: options.height ?? 180,
          layer: [
            { data: { values: [{}] }, mark: { type: "rule", style: "zero" }, encoding: { y: { datum: 0 } } },
            {
              mark: { type: "line", strokeWidth: 2 },
              encoding: {
                x: x(false),
                y: { field: "m", type: "quantitative", title: "Gain (dB)" },
                color,
                strokeDash: dash,
              },
            },
            hover("gain", x(false), { field: "m", type: "quantitative", title: "Gain (dB)" }),
            ...margin(
              "phaseCrossover",
              (one) => -(one.gainMargin ?? 0),
              0,
              (one) => `${prefix(one)}gain margin ${short(one.gainMargin ?? Number.NaN, 3)} dB`,
              "Gain (dB)",
              false,
            ),
          ],
        },
        {
          width,
          height: options.height ?? 180,
          layer: [
            {
              data: { values: [{}] },
              mark: { type: "rule", style: "zero" },
              encoding: { y: { datum: -180 } },
            },
            {
              mark: { type: "line", strokeWidth: 2 },
              encoding: {
                x: x(true),
                y: { field: "p", type: "quantitative", title: "Phase (degrees)", scale: { zero: false } },
                color,
                strokeDash: dash,
              },
            },
            hover("phase", x(true), {
              field: "p",
              type: "quantitative",
              title: "Phase (degrees)",
              scale: { zero: false },
            }),
            ...margin(
              "crossover",
              (one) => -180 + (one.phaseMargin ?? 0),
              -180,
              (one) =>
                `${prefix(one)}phase margin ${short(one.phaseMargin ?? Number.NaN, 3)}° at ${short(one.crossover ?? 0, 3)} rad/s`,
              "Phase (degrees)",
              true,
            ),
          ],
        },
      ],
      spacing: 12,
    },
    {
      title: titleOf(cases),
      subtitle: "Open loop; bars: the margins",
      description: cases
        .map(
          (one) =>
            `${one.label}: phase margin ${short(one.phaseMargin ?? Number.NaN, 3) ?? "unknown"} degrees at ${short(one.crossover ?? Number.NaN, 3) ?? "unknown"} rad/s, gain margin ${short(one.gainMargin ?? Number.NaN, 3) ?? "unlimited"} dB`,
        )
        .join("; "),
    },
    options,
  );
}

/** The margins of the loop, or the phase margins of several; that there is none where the gain never falls to one. */
function titleOf(cases: readonly BodeCase[]): string {
  const phase = ({ phaseMargin }: BodeCase) =>
    phaseMargin === undefined ? "no crossover" : `${said(phaseMargin)}°`;
  if (cases.length === 1) {
    const { gainMargin } = cases[0];
    const gain = gainMargin === undefined ? "" : `, gain margin ${said(gainMargin)} dB`;
    return `Phase margin: ${phase(cases[0])}${gain}`;
  }
  const text = `Phase margin: ${cases.map((one) => `${phase(one)} (${one.label})`).join(", ")}`;
  if (text.length <= 80) return text;
  const known = cases.flatMap(({ phaseMargin }) => (phaseMargin === undefined ? [] : [phaseMargin]));
  if (known.length === 0) return "No loop crosses a gain of one";
  return `Phase margins from ${said(Math.min(...known))}° to ${said(Math.max(...known))}°`;
}

/** What the pointer reads from a curve. */
function hover(name: string, x: object, y: object): object {
  return {
    name: `hover_bode_${name}`,
    mark: { type: "point", opacity: 0, size: 90 },
    encoding: {
      x,
      y,
      tooltip: [
        { field: "k", title: "Loop" },
        { field: "f", type: "quantitative", title: "Frequency (rad/s)", format: ".4~g" },
        { field: "m", type: "quantitative", title: "Gain (dB)", format: ".4~g" },
        { field: "p", type: "quantitative", title: "Phase (degrees)", format: ".4~g" },
      ],
    },
  };
}
