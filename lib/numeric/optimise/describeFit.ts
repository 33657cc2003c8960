import type { FitResult } from "./types.js";

/** A number with as many digits as its error deserves. */
function number(value: number, digits = 6): string {
  if (Number.isNaN(value)) return "-";
  if (!Number.isFinite(value)) return value > 0 ? "inf" : "-inf";
  const text = value.toPrecision(digits);
  return text.includes("e") || !text.includes(".") ? text : text.replace(/\.?0+$/, "");
}

/** Columns padded to line up; the first to the left, the others to the right. */
function table(rows: readonly (readonly string[])[]): string[] {
  const widths = rows[0].map((_, c) => Math.max(...rows.map((row) => row[c].length)));
  return rows.map((row) =>
    row
      .map((cell, c) => (c === 0 ? cell.padEnd(widths[c]) : cell.padStart(widths[c])))
      .join("  ")
      .trimEnd(),
  );
}

/**
 * A fit as a short text of at most 80 columns: values, standard errors, intervals, correlations that matter, residuals,
 * and how the search stopped.
 *
 * @example
 * console.log(describeFit(fitLeastSquares(problem)));
 */
export function describeFit(fit: FitResult): string {
  const percent = `${number(100 * fit.level, 4)} %`;
  const lines: string[] = [];
  const rows = [["parameter", "value", "std. error", `${percent} low`, "high", "unit"]];
  for (const p of fit.parameters) {
    const name = p.name.length > 20 ? `${p.name.slice(0, 19)}…` : p.name;
    const note = p.fixed ? "held" : p.atBound ? "on bound" : number(p.standardError, 3);
    rows.push([
      name,
      number(p.value),
      note,
      p.fixed ? "" : number(p.low, 5),
      p.fixed ? "" : number(p.high, 5),
      p.unit && p.unit !== "1" ? p.unit : "",
    ]);
  }
  lines.push(...table(rows), "");
  const n = fit.free.length;
  const pairs: { text: string; size: number }[] = [];
  for (let i = 0; i < n; i++)
    for (let j = i + 1; j < n; j++) {
      const c = fit.correlation[i * n + j];
      if (Math.abs(c) >= 0.1)
        pairs.push({
          text: `  ${fit.parameters[fit.free[i]].name} with ${fit.parameters[fit.free[j]].name}: ${c.toFixed(3)}`,
          size: Math.abs(c),
        });
    }
  if (pairs.length > 0) {
    pairs.sort((a, b) => b.size - a.size);
    lines.push("correlations (0.1 and more):", ...pairs.slice(0, 10).map((p) => p.text));
    if (pairs.length > 10) lines.push(`  and ${pairs.length - 10} smaller ones`);
    lines.push("");
  }
  const { diagnostics: d } = fit;
  lines.push(
    `residuals: ${fit.count} samples, ${fit.degreesOfFreedom} degrees of freedom, standard deviation ${number(fit.residualStandardDeviation, 4)}`,
    `  lag-1 correlation ${d.lag1.toFixed(2)}, Durbin-Watson ${d.durbinWatson.toFixed(2)}, runs ${d.runs.count} of ${number(d.runs.expected, 4)} expected,`,
    `  ${number(d.effectiveSamples, 3)} effectively independent samples, ${d.outliers} outliers`,
    `errors: ${
      fit.covarianceKind === "independent"
        ? "independent residuals assumed"
        : fit.covarianceKind === "autoregressive"
          ? "correlation allowed for (autoregressive residuals)"
          : "correlation allowed for (Newey-West)"
    }${fit.loss === "linear" ? "" : `; robust loss ${fit.loss}, scale ${number(fit.lossScale ?? Number.NaN, 3)}`}`,
    `stop: ${fit.stop.message}`,
    `  ${fit.stop.iterations} iterations, ${fit.stop.evaluations} evaluations`,
  );
  for (const warning of fit.warnings) lines.push(`note: ${warning}`);
  return lines.join("\n");
}
