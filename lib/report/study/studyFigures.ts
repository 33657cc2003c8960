import { daysChart } from "../../chart/daysChart.js";
import { driftChart } from "../../chart/driftChart.js";
import { quantileChart } from "../../chart/quantileChart.js";
import type { ChartSpec } from "../../chart/render/spec.js";
import { survivalChart } from "../../chart/survivalChart.js";
import { weibullChart } from "../../chart/weibullChart.js";
import { type ConstantName, constantNames } from "../../identify/constants.js";
import { lifeBand } from "../../study/life/lifeBand.js";
import { isUndetermined } from "../../study/life/lifeData.js";
import type { LifeSummary } from "../../study/life/lifeSummary.js";
import type { TurnbullCurve } from "../../study/life/turnbull.js";
import type { BandPoint } from "../../study/life/turnbullBand.js";
import { unitOfConstant } from "../../study/pipeline/studyConstants.js";
import type { DayChart } from "../../study/population/dayChart.js";
import { columnOf, type Fleet } from "../../study/population/fleet.js";
import { quantiles } from "../../study/population/quantiles.js";
import type { StudySummary } from "../../study/population/studySummary.js";
import { numberText, scaleOf } from "../../units/forPeople.js";
import type { Drawing } from "../figures.js";

/** A chart of a study's page, with its name and caption. */
export interface StudyFigure {
  readonly name: string;
  readonly drawing: Drawing;
  readonly caption: string;
}

/** A constant in words with its unit for people, and the factor from the study's unit. */
function axisOf(constant: string, unit: string, typical: number): { axis: string; factor: number } {
  const [text, scale] = scaleOf(typical, unit);
  const factor = 1 / scale;
  const words = constantNames[constant as ConstantName]?.words ?? constant;
  return { axis: text === "" || text === "1" ? words : `${words} (${text})`, factor };
}

const both = (of: (options: { width: number; title: null; subtitle: null }) => ChartSpec): Drawing => ({
  spec: of({ width: 620, title: null, subtitle: null }),
  narrow: of({ width: 240, title: null, subtitle: null }),
});

/** Control charts of the daily means, those with days outside first. */
export function dayFigures(summary: StudySummary): StudyFigure[] {
  if (isUndetermined(summary.charts)) return [];
  const out = ({ chart }: { readonly chart: DayChart }) =>
    chart.individuals.signals.length + chart.steps.length;
  return [...summary.charts]
    .sort((a, b) => out(b) - out(a))
    .map(({ constant, chart }) => {
      const unit = summary.distributions.find((d) => d.constant === constant)?.unit ?? "1";
      const { axis, factor } = axisOf(constant, unit, chart.individuals.center);
      const scaled = (list: readonly number[]) => list.map((v) => v * factor);
      const { individuals } = chart;
      const picture = {
        dates: chart.dates,
        values: scaled(individuals.values),
        center: individuals.center * factor,
        lower: scaled(individuals.lower),
        upper: scaled(individuals.upper),
        signals: individuals.signals,
        steps: chart.steps.map((step) => step.at),
      };
      const words = constantNames[constant as ConstantName]?.words ?? constant;
      const least = (part: number, shift: number) => {
        const [shown, size] = scaleOf(shift, unit);
        return part < 1 ? `${numberText(100 * part, 2)} %` : `${numberText(shift / size, 2)} ${shown}`;
      };
      const [oneDay, lasting] = [
        least(chart.smallest, chart.smallestShift),
        least(chart.smallestStep, chart.smallestStepShift),
      ];
      return {
        name: `days-${constant}`,
        drawing: both((options) => daysChart(picture, axis, options)),
        caption: `${words}: ${foundOnDays(chart)}. Band: where chance alone keeps each day, by the other days, its number of motors and its batch. Nine times out of ten would have been found: one typical day apart from ${oneDay}, a step that lasts for the last third from ${lasting}.`,
      };
    });
}

/** Steps, and days apart, in words. */
export function foundOnDays({ steps, individuals: { signals }, dates }: DayChart): string {
  const percent = (part: number) => `${part < 0 ? "" : "+"}${numberText(100 * part, 2)} %`;
  const parts = [
    ...steps.map(
      (s) => `${percent(s.change)} from ${s.date} on (95 % interval ${percent(s.low)} to ${percent(s.high)})`,
    ),
    ...(signals.length > 0
      ? [`${signals.length} ${signals.length === 1 ? "day" : "days"} apart, first ${dates[signals[0].at]}`]
      : []),
  ];
  return parts.length > 0 ? parts.join("; ") : "no step and no day apart found";
}

/** Most motors whose drift is drawn. */
const mostDrifts = 6;

/** The runs of each motor that drifts, with its line. */
export function driftFigures({ drifting }: StudySummary, fleet: Fleet): StudyFigure[] {
  return drifting.slice(0, mostDrifts).map(({ motor, constant, slope, text }, k) => {
    const runs = (fleet.motors.get(motor) ?? []).flatMap(({ date, constants, halves }) => {
      const value = constants[constant] ?? Number.NaN;
      return date === null || !Number.isFinite(value) ? [] : [{ date, value, half: halves?.[constant] }];
    });
    const { axis, factor } = axisOf(constant, unitOfConstant(constant), runs[0]?.value ?? 0);
    const inOrder = runs.sort((a, b) => Date.parse(a.date) - Date.parse(b.date));
    const picture = {
      runs: inOrder.map(({ date, value, half = Number.NaN }) => ({
        date: date.slice(0, 10),
        value: value * factor,
        ...(Number.isFinite(half) ? { low: (value - half) * factor, high: (value + half) * factor } : {}),
      })),
      perDay: slope.value * factor,
    };
    return {
      name: `drift-${k + 1}`,
      drawing: both((options) => driftChart(picture, axis, options)),
      caption: `${text}. Each run with its 95 % interval; dashed: the line of its drift, rig and temperature taken out.`,
    };
  });
}

/** Quantile plots of the constants with their bands: at most 400 motors each, evenly taken. */
export function quantileFigures(summary: StudySummary, fleet: Fleet): StudyFigure[] {
  return summary.distributions.flatMap(({ constant, unit, description }) => {
    const all = quantiles(columnOf(fleet.first, constant).values);
    if (all.length < 8) return [];
    const { axis, factor } = axisOf(constant, unit, description.mean.value);
    const step = Math.max(1, Math.floor(all.length / 200));
    const points = all
      .filter((_, i) => i % step === 0 || i < 8 || i >= all.length - 8)
      .map((p) => ({
        expected: p.expected * factor,
        found: p.found * factor,
        low: p.low * factor,
        high: p.high * factor,
      }));
    const words = constantNames[constant as ConstantName]?.words ?? constant;
    return [
      {
        name: `quantiles-${constant}`,
        drawing: both((options) => quantileChart(points, axis, "normal", options)),
        caption: `${words} of ${all.length} motors as first measured, against a normal distribution. Shape: ${description.shape.shape}. In the band lie 95 % of such motors at each place.`,
      },
    ];
  });
}

/** Kaplan-Meier (or Turnbull) with the model beside it, and the Weibull plot; `band` of Turnbull's curve. */
export function lifeFigures(life: LifeSummary, band?: readonly BandPoint[]): StudyFigure[] {
  const axis = `Use until failure (${life.unit === "1" ? "unit of the table" : life.unit})`;
  const { curve, model } = life;
  if (isUndetermined(curve)) return [];
  const steps: readonly { time: number; survival: number; low?: number; high?: number }[] =
    curve.method === "Turnbull"
      ? (band ??
        (curve as TurnbullCurve).stretches
          .filter((s) => Number.isFinite(s.to))
          .map((s) => ({ time: s.to, survival: s.survival })))
      : (
          curve as {
            steps: readonly { time: number; failed: number; survival: number; low: number; high: number }[];
          }
        ).steps
          .filter((s) => s.failed > 0)
          .map((s) => ({
            time: s.time,
            survival: s.survival,
            ...(Number.isFinite(s.low) ? { low: s.low, high: s.high } : {}),
          }));
  if (steps.length === 0) return [];
  const found = { label: "found", steps: [{ time: 0, survival: 1 }, ...thinned(steps, 150)] };
  const last = steps[steps.length - 1].time;
  const simple = !isUndetermined(model) && model.coefficients.length === 1;
  const { expected } = life;
  const modelled =
    expected &&
    Array.from({ length: 61 }, (_, i) => ({ time: (last * i) / 60, survival: expected((last * i) / 60) }));
  const curves = [
    { ...found, units: life.units, failures: life.failures, ...(modelled ? { model: modelled } : {}) },
  ];
  const said = isUndetermined(life.fit)
    ? ""
    : ` ${life.fit.text.charAt(0).toUpperCase()}${life.fit.text.slice(1)}.`;
  const averaged = simple || !modelled ? "" : ", averaged over the units' own temperatures and groups";
  return [
    {
      name: "survival",
      drawing: both((options) => survivalChart(curves, axis, options)),
      caption: `Share still running (${curve.method}${steps.some((s) => s.low !== undefined) ? `, band of ${Math.round(life.level * 100)} %` : ""})${modelled ? `; thin line: the model${averaged}` : ""}.${said}`,
    },
    ...paperFigure(life, axis),
  ];
}

/** Fewest failures that make a probability plot. */
const leastOnPaper = 3;

/** Failures on Weibull paper with the fitted line and its band; where temperatures or groups take part, as all would
 * have lived at the reference. */
function paperFigure(life: LifeSummary, axis: string): StudyFigure[] {
  const { model } = life;
  const curve = life.moved?.();
  if (isUndetermined(model) || curve === undefined || isUndetermined(curve)) return [];
  const { failures, units } = model;
  if (failures < leastOnPaper) return [];
  const points = ("stretches" in curve ? curve.stretches.map((s) => ({ ...s, time: s.to })) : curve.steps)
    .map(({ time, survival }) => ({ time, failed: 1 - survival }))
    .filter(({ time, failed }, i, all) => Number.isFinite(time) && failed > (all[i - 1]?.failed ?? 0));
  const shares = points.map(({ failed }) => failed).filter((failed) => failed > 0 && failed < 1);
  const [from, to] = [Math.min(...shares), Math.max(...shares)];
  const reference = new Array<number>(model.coefficients.length - 1).fill(0);
  const band = from < to ? lifeBand(model, from, to, reference) : [];
  const scale = Math.exp(model.coefficients[0].value);
  const picture = {
    points: thinned(points, 150),
    shape: model.shape?.value ?? 1,
    scale,
    times: band,
    failures,
    running: units - failures,
    ...(model.shape === undefined ? { fitted: band } : {}),
  };
  const line =
    model.shape === undefined
      ? "the line is the log-normal model, which is curved here"
      : "a straight line is a Weibull life, its slope the shape";
  const level = Math.round(life.level * 100);
  return [
    {
      name: "weibull",
      drawing: both((options) => weibullChart(picture, axis, options)),
      caption: `Weibull plot: ${line}. ${failures} failed, ${units - failures} still running${movedText(life)}; band: interval of the fitted line at ${level} %, at each height by itself.`,
    },
  ];
}

/** What the times of a probability plot were moved to, in words. */
function movedText({ referenceTemperature, differing, withoutFailure }: LifeSummary): string {
  const left = withoutFailure.map(({ group }) => group).filter((group) => differing.includes(group));
  const out = left.length === 0 ? "" : `; without ${left.join(", ")}, of which none has failed`;
  const odd = differing.filter((group) => !left.includes(group));
  const to = [
    ...(referenceTemperature === undefined ? [] : [`${numberText(referenceTemperature, 3)} degrees Celsius`]),
    ...(odd.length > 0 ? [`the groups other than ${odd.join(", ")}`] : []),
  ];
  return to.length === 0 ? out : `${out}; each time is moved to ${to.join(" and ")} by the model`;
}

function thinned<T>(list: readonly T[], most: number): T[] {
  const step = Math.max(1, Math.ceil(list.length / most));
  return list.filter((_, i) => i % step === 0 || i === list.length - 1);
}
