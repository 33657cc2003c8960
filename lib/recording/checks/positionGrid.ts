import { encoderLinesFromGrid } from "../columns/encoderLinesFromGrid.js";
import { resolutionOf } from "../resolutionOf.js";
import type { Finding, Recording } from "../types.js";
import { shown } from "./common.js";

/** The grid on which the position lies, against the stated encoder lines. */
export function positionGrid(recording: Recording): Finding[] {
  const position = recording.channels.position;
  if (position === undefined) return [];
  const stated = recording.encoder.lines;
  if (position.sourceUnit === "{count}") {
    if (position.resolution === undefined) return [];
    const step = resolutionOf(position.data);
    const counts = step / position.resolution;
    if (!(step > 0) || Math.abs(counts - Math.round(counts)) > 0.01 || Math.round(counts) <= 1) return [];
    const whole = Math.round(counts);
    return [
      {
        severity: whole === 4 ? "error" : "warning",
        code: "position-grid",
        message: `the logged counts move only in steps of ${whole}`,
        value: whole,
        unit: "{count}",
        meaning:
          whole === 4
            ? "the log steps by whole lines (four counts): the channel lost its quadrature, or the counts were multiplied by four"
            : "the log is coarser than the encoder, or the counts were scaled: the resolution is that much worse",
        file: recording.path,
        column: position.name,
      },
    ];
  }
  const grid = encoderLinesFromGrid(position);
  if (grid === undefined || stated === undefined) return [];
  const ratio = grid.lines / stated;
  if (Math.abs(ratio - 1) < 1e-3) {
    return [
      {
        severity: "note",
        code: "lines-confirmed",
        message: `the position moves on a grid of ${4 * grid.lines} steps a turn, which confirms the stated ${stated} lines (four counts a line)`,
        value: grid.lines,
        unit: "1",
        file: recording.path,
        column: position.name,
      },
    ];
  }
  const meaning =
    Math.abs(ratio - 4) < 0.01
      ? "four times as many: the stated number is lines divided by four, or the encoder has four times the lines"
      : Math.abs(ratio - 0.25) < 0.001
        ? "a quarter: the stated number was taken after quadrature (counts, not lines)"
        : "the stated lines, or the scaling of the position, are wrong";
  return [
    {
      severity: "error",
      code: "position-grid",
      message: `the position moves on a grid of ${4 * grid.lines} steps a turn, that of ${grid.lines} lines, but ${stated} lines are stated (factor ${shown(ratio)})`,
      value: ratio,
      unit: "1",
      meaning: `${meaning}; the electrical angle of the drive, and so the commutation, depends on it`,
      file: recording.path,
      column: position.name,
    },
  ];
}
