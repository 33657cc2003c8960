import { legendLayer } from "./marks/legendLayer.js";
import { commandColor, dataColor } from "./marks/palette.js";
import { listed, said } from "./marks/says.js";
import { short } from "./marks/thin.js";
import { type Chart, type ChartOptions, chart } from "./render/spec.js";

/** One case: how torque depends on the shaft's angle while the current is held. */
export interface TorqueAngleCase {
  readonly label: string;
  /** Commutation mismatch `n`, electrical turns per shaft turn; 0 when the drive's angle turns with the magnets. */
  readonly mismatch: number;
  /** Offset error, electrical degrees. */
  readonly offset?: number;
  /** A line below the label, saying what the shaft will do. */
  readonly note?: string;
}

/**
 * Torque against shaft angle at constant current, for the current one way and reversed. Where the curve crosses zero
 * falling, the shaft rests; a flat line away from zero never lets it rest.
 *
 * @example
 * torqueAngleChart([{ label: "UVW", mismatch: 0 }, { label: "VUW", mismatch: 8 }]);
 */
export function torqueAngleChart(
  cases: readonly TorqueAngleCase[],
  options: ChartOptions & { readonly columns?: number } = {},
): Chart {
  const columns = options.columns ?? Math.min(2, cases.length);
  const width = options.width ?? (columns === 1 ? 600 : 300);
  const height = options.height ?? 150;
  const panels = cases.map((one, index) => {
    const offset = ((one.offset ?? 0) * Math.PI) / 180;
    const count = one.mismatch === 0 ? 37 : Math.max(73, Math.round(one.mismatch * 24) + 1);
    const values: { k: string; a: number | null; T: number | null }[] = [];
    for (const [name, sign] of [
      ["current +", 1],
      ["current reversed", -1],
    ] as const) {
      for (let i = 0; i < count; i++) {
        const angle = (360 * i) / (count - 1);
        values.push({
          a: short(angle, 5),
          T: short(sign * Math.cos((one.mismatch * angle * Math.PI) / 180 + offset), 4),
          k: name,
        });
      }
    }
    const rests: { k: string; a: number | null; T: number }[] = [];
    if (one.mismatch !== 0) {
      // Rest: T = cos(n a + eps) = 0 with falling slope, that is n a + eps = 90 degrees + whole turns; reversed
      // current: -90 degrees.
      for (const [name, phase] of [
        ["current +", 90],
        ["current reversed", -90],
      ] as const) {
        for (let turn = -1; turn <= Math.ceil(one.mismatch) + 1; turn++) {
          const angle = (phase + 360 * turn - (one.offset ?? 0)) / one.mismatch;
          if (angle >= 0 && angle <= 360) rests.push({ a: short(angle, 5), T: 0, k: name });
        }
      }
    }
    const x = {
      field: "a",
      type: "quantitative",
      title: index >= cases.length - columns ? "Shaft angle (degrees)" : null,
      scale: { domain: [0, 360] },
      axis: { values: [0, 90, 180, 270, 360], grid: true },
    };
    const y = {
      field: "T",
      type: "quantitative",
      title: index % columns === 0 ? "Torque / (Kt·i)" : null,
      scale: { domain: [-1.1, 1.1], nice: false },
      axis: { values: [-1, 0, 1] },
    };
    const dashes = { "current +": undefined, "current reversed": [5, 3] };
    const colors = { "current +": dataColor, "current reversed": commandColor };
    const names = ["current +", "current reversed"] as const;
    return {
      width,
      height,
      data: { values },
      title: { text: one.label, subtitle: one.note ?? "", fontSize: 13.5, offset: 6 },
      layer: [
        { data: { values: [{}] }, mark: { type: "rule", style: "zero" }, encoding: { y: { datum: 0 } } },
        ...names.map((name) => ({
          transform: [{ filter: { field: "k", equal: name } }],
          mark: {
            type: "line",
            strokeWidth: 1.8,
            color: colors[name],
            ...(dashes[name] ? { strokeDash: dashes[name] } : {}),
          },
          encoding: { x, y },
        })),
        {
          name: `hover_angle_${index}`,
          mark: { type: "point", opacity: 0, size: 60 },
          encoding: {
            x,
            y,
            tooltip: [
              { field: "k", title: "Current" },
              { field: "a", type: "quantitative", title: "Shaft angle (deg)", format: ".1f" },
              { field: "T", type: "quantitative", title: "Torque / (Kt·i)", format: ".3~f" },
            ],
          },
        },
        ...names.map((name) => ({
          data: { values: rests.filter((rest) => rest.k === name) },
          mark: {
            type: "point",
            size: 60,
            filled: true,
            opacity: 1,
            color: colors[name],
            shape: name === "current +" ? "circle" : "square",
          },
          encoding: {
            x,
            y,
            tooltip: [
              { field: "k", title: "Current" },
              { field: "a", type: "quantitative", title: "Rests at (deg)", format: ".1f" },
            ],
          },
        })),
        ...(index === 0
          ? [legendLayer(names.map((name) => ({ name, color: colors[name], dash: dashes[name] })))]
          : []),
      ],
    };
  });
  return chart(
    { concat: panels, columns, spacing: 26 },
    {
      title: titleOf(cases),
      subtitle: "Torque against shaft angle, current held. Dots: where the shaft comes to rest",
      description: `Torque against shaft angle for ${cases.length} cases. ${cases
        .map((one) =>
          one.mismatch === 0
            ? `${one.label}: constant at ${short(Math.cos(((one.offset ?? 0) * Math.PI) / 180), 3)}`
            : `${one.label}: swings ${one.mismatch} times a turn, rests every ${short(360 / one.mismatch, 3)} degrees`,
        )
        .join("; ")}.`,
    },
    options,
  );
}

/** Which cases turn on, and after what angle the others rest at the latest. */
function titleOf(cases: readonly TorqueAngleCase[]): string {
  const turning = cases.filter(
    ({ mismatch, offset = 0 }) => mismatch === 0 && Math.abs(Math.cos((offset * Math.PI) / 180)) > 1e-6,
  );
  const resting = cases.filter(({ mismatch }) => mismatch !== 0);
  if (resting.length === 0)
    return turning.length === cases.length
      ? "The torque is the same at every angle: the shaft turns on"
      : "No torque at any angle: the shaft stays";
  const every = [...new Set(resting.map(({ mismatch }) => `${said(360 / Math.abs(mismatch))}°`))];
  const rest = `rests every ${listed(every)}`;
  return turning.length === 0
    ? `The shaft ${rest}`
    : `The shaft turns on in ${turning.length} of ${cases.length} cases; in the others it ${rest}`;
}
