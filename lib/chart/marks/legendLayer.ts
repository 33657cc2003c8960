/** One name of a legend. */
export interface LegendEntry {
  readonly name: string;
  readonly color: string;
  /** Dash lengths of its line; solid when absent. */
  readonly dash?: readonly number[];
}

/** A layer that draws nothing and gives the chart one legend, with the colour and the dash of every line together. */
export function legendLayer(entries: readonly LegendEntry[], legend: object = {}): object {
  const domain = entries.map((entry) => entry.name);
  const shown = { symbolType: "stroke", symbolOpacity: 1, symbolSize: 260, ...legend };
  return {
    data: { values: entries.map((entry) => ({ k: entry.name })) },
    mark: { type: "line", opacity: 0 },
    encoding: {
      color: { field: "k", scale: { domain, range: entries.map((entry) => entry.color) }, legend: shown },
      strokeDash: {
        field: "k",
        scale: { domain, range: entries.map((entry) => entry.dash ?? [1, 0]) },
        legend: shown,
      },
    },
  };
}
