import { legendLayer } from "./marks/legendLayer.js";
import { dataColor, modelColor } from "./marks/palette.js";
import { said } from "./marks/says.js";
import { short } from "./marks/thin.js";
import { type Chart, type ChartOptions, chart } from "./render/spec.js";

/** Friction measured, and the model drawn through it. */
export interface FrictionPicture {
  /** Measured points: rev/min, N m. */
  readonly points: readonly { readonly speed: number; readonly torque: number }[];
  /** Model: Coulomb torque (N m) each way, viscous torque (N m per rev/min) and, when known, their intervals at 95
   * %. */
  readonly coulomb: number;
  readonly coulombReverse?: number;
  readonly viscous: number;
  readonly low?: { readonly coulomb: number; readonly viscous: number };
  readonly high?: { readonly coulomb: number; readonly viscous: number };
}

/**
 * Friction torque against speed in both directions, measured and as the model reads it.
 *
 * @example
 * const points = [{ speed: -1000, torque: -0.0062 }, { speed: 1000, torque: 0.0061 }]; // rev/min, N m
 * frictionChart({ points, coulomb: 0.004, viscous: 2e-6 });
 */
export function frictionChart(friction: FrictionPicture, options: ChartOptions = {}): Chart {
  const points = friction.points.map((point) => ({
    w: short(point.speed, 4),
    T: short(point.torque * 1000, 4),
  }));
  const fastest = Math.max(1e-6, ...friction.points.map((point) => Math.abs(point.speed)));
  const model: object[] = [];
  for (const side of [-1, 1]) {
    for (let i = 0; i <= 20; i++) {
      const w = (fastest * i) / 20;
      const coulomb = side < 0 ? (friction.coulombReverse ?? friction.coulomb) : friction.coulomb;
      const at = (c: number, v: number) => short(side * 1000 * (c + v * w), 5);
      model.push({
        w: short(side * w, 4),
        T: at(coulomb, friction.viscous),
        ...(friction.low && friction.high
          ? {
              l: at(friction.low.coulomb, friction.low.viscous),
              h: at(friction.high.coulomb, friction.high.viscous),
            }
          : {}),
        side,
      });
    }
  }
  const x = {
    field: "w",
    type: "quantitative",
    title: "Shaft speed (rev/min)",
    axis: { grid: true, tickCount: 7 },
  };
  const y = { field: "T", type: "quantitative", title: "Friction torque (mN·m)" };
  return chart(
    {
      width: options.width ?? 560,
      height: options.height ?? 270,
      layer: [
        legendLayer([
          { name: "measured", color: dataColor },
          { name: "model", color: modelColor },
        ]),
        ...(friction.low && friction.high
          ? [
              {
                data: { values: model },
                mark: { type: "area", color: modelColor, opacity: 0.18 },
                encoding: { x, y: { ...y, field: "l" }, y2: { field: "h" }, detail: { field: "side" } },
              },
            ]
          : []),
        { data: { values: [{}] }, mark: { type: "rule", style: "zero" }, encoding: { y: { datum: 0 } } },
        { data: { values: [{}] }, mark: { type: "rule", style: "zero" }, encoding: { x: { datum: 0 } } },
        {
          data: { values: points },
          mark: { type: "point", color: dataColor, size: 28, filled: true, opacity: 0.65 },
          encoding: {
            x,
            y,
            tooltip: [
              { field: "w", type: "quantitative", title: "Speed (rev/min)" },
              { field: "T", type: "quantitative", title: "Torque (mN·m)" },
            ],
          },
        },
        {
          name: "hover_friction",
          data: { values: model },
          mark: { type: "point", opacity: 0, size: 70 },
          encoding: {
            x,
            y,
            tooltip: [
              { field: "w", type: "quantitative", title: "Speed (rev/min)" },
              { field: "T", type: "quantitative", title: "Torque of the model (mN·m)" },
            ],
          },
        },
        {
          data: { values: model },
          mark: { type: "line", color: modelColor, strokeWidth: 2.2 },
          encoding: { x, y, detail: { field: "side" } },
        },
      ],
    },
    {
      title: titleOf(friction, fastest),
      description: `Friction torque against speed: ${short(friction.coulomb * 1000, 3)} mN m of Coulomb friction, rising by ${short(friction.viscous * 1e6, 3)} mN m per 1000 rev/min.`,
    },
    options,
  );
}

/** Torque to begin with and at the fastest point, and how much the directions differ where both are known. */
function titleOf({ coulomb, coulombReverse, viscous }: FrictionPicture, fastest: number): string {
  const torque = (newtonMetres: number) => `${said(1000 * newtonMetres)} mN·m`;
  const both = coulombReverse !== undefined && coulombReverse !== coulomb;
  const start = both
    ? `${torque(coulomb)} forward and ${torque(coulombReverse)} in reverse`
    : `${torque(coulomb)} near standstill`;
  return `Friction: ${start}, ${torque(coulomb + viscous * fastest)} at ${said(fastest)} rev/min`;
}
