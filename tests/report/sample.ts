/** A small diagnosed set for the tests of the report: three orders with invented traces. */

import type { RecordingVerdict, TrialVerdict } from "../../lib/diagnosis/types.js";
import type { LeadOrder } from "../../lib/motor/facts.js";
import type { Channel, ChannelRole, Recording } from "../../lib/recording/types.js";
import type { ReportRecording, ReportSource } from "../../lib/report/index.js";

const time = Float64Array.from({ length: 900 }, (_, i) => i / 150);

function channel(role: ChannelRole, name: string, data: Float64Array): Channel {
  return { role, name, sourceUnit: "1", recognisedBy: "name", data };
}

function recording(path: string, ordering: LeadOrder, gain: number): Recording {
  const command = time.map((t) => (t < 0.5 ? 0 : t < 2 ? 1 : t < 3.5 ? -1 : 0));
  const speed = time.map((t) => {
    if (t < 0.5) return 0;
    if (t < 2) return 400 * gain * (1 - Math.exp(-(t - 0.5) / 0.3));
    if (t < 3.5) return -400 * gain * (1 - 2 * Math.exp(-(t - 2) / 0.3));
    if (t < 4) return -400 * gain * Math.exp(-(t - 3.5) / 0.1);
    return gain > 0
      ? 120 * (1 - Math.exp(-(t - 4) / 0.05))
      : -120 * Math.min(4, Math.exp((t - 4) / 0.4) - 1) * Math.abs(gain);
  });
  return {
    path,
    ordering,
    motor: "roller-07",
    title: `Bench run of ${ordering}`,
    time,
    channels: {
      currentCommand: channel("currentCommand", "i_cmd", command),
      current: channel(
        "current",
        "i_meas_acme",
        command.map((v, i) => v * (0.98 + 0.01 * Math.sin(i))),
      ),
      speed: channel("speed", "n", speed),
      speedCommand: channel(
        "speedCommand",
        "n_cmd",
        time.map((t) => (t < 4 ? Number.NaN : 120)),
      ),
    },
    machine: { polePairs: 4 },
    drive: { busVoltage: 48, speedLoop: { kp: 0.02, ki: 0.4 } },
    encoder: { lines: 1024 },
    findings: [
      {
        severity: "warning",
        code: "gap",
        message: `A gap of 0.1 s in ${path} at row 12.`,
        file: path,
        row: 12,
        column: "i_meas_acme",
      },
    ],
  };
}

function trial(
  kind: "torque" | "speed",
  verdict: TrialVerdict["verdict"],
  sense: TrialVerdict["sense"],
): TrialVerdict {
  return {
    kind,
    start: kind === "torque" ? 0.4 : 4,
    end: kind === "torque" ? 3.8 : 6,
    verdict,
    confidence: 0.97,
    sense,
    evidence: [
      {
        quantity: "travel under current",
        value: 1200,
        unit: "deg",
        limit: 22.5,
        limitSource: "physics: half a period",
        meaning: "the shaft turned",
      },
      { quantity: "speed at the end", value: -411, unit: "rad/s", meaning: "turns against the current" },
    ],
    causes: [
      {
        cause: "stale-offset",
        probability: 0.91,
        text: "the offset was not aligned again after the leads were shifted",
      },
      { cause: "half-turn-offset", probability: 0.09, text: "the offset is half an electrical turn off" },
    ],
    ...(kind === "torque"
      ? {
          forecast: {
            verdict: "runaway",
            probability: 0.95,
            held: true,
            text: "speed control of this order would run away",
          },
        }
      : {}),
    text: "It spins and reverses, against the current.",
  };
}

/** A report source; `folder` and names can be chosen, to test what becomes of them. */
export function source(folder = "/home/customer/logs-2026-03-14"): ReportSource {
  const cases: [LeadOrder, number, TrialVerdict["verdict"], TrialVerdict["sense"]][] = [
    ["UVW", 1, "tracking", "with"],
    ["VWU", -0.5, "runaway", "against"],
    ["VUW", 0, "blocked", "none"],
  ];
  const recordings: ReportRecording[] = cases.map(([ordering, gain]) => ({
    recording: recording(`${folder}/order-${ordering.toLowerCase()}.csv`, ordering, gain),
    trials: [],
    constants: {
      electrical: {
        kv: {
          value: 103.1,
          low: 102.6,
          high: 103.6,
          unit: "{rev}/min/V",
          method: "plateau",
          convention: "line-to-line peak",
        },
      },
      mechanical: {
        inertia: { value: 3.21e-5, low: 3.1e-5, high: 3.3e-5, unit: "kg.m2", method: "regression" },
      },
      ratios: {},
      harmonics: [],
      routes: [],
      findings: [],
      missing: [],
    },
  }));
  const verdicts: RecordingVerdict[] = cases.map(([ordering, _gain, verdict, sense], i) => ({
    path: recordings[i].recording.path,
    ordering,
    motor: "roller-07",
    trials: [
      trial("torque", verdict === "runaway" ? "reversed" : verdict, sense),
      trial("speed", verdict, sense),
    ],
    findings: recordings[i].recording.findings,
  }));
  return {
    diagnosis: {
      schemaVersion: 2,
      version: "0.1.0",
      recordings: verdicts,
      orderings: cases.map(([ordering, , verdict]) => ({
        ordering,
        verdict,
        usable: verdict === "tracking",
        reason: `${verdict} in the speed trial.`,
      })),
      advice: ["Keep UVW.", "Align the encoder again before VWU is tried."],
      problems: [
        {
          severity: "error",
          code: "cannot-read",
          message: `${folder}/notes.pdf is not a table.`,
          file: `${folder}/notes.pdf`,
        },
      ],
    },
    recordings,
    made: "2026-03-15T10:00:00Z",
    settings: { "made by": "the tests" },
  };
}

/** The same with names that try to be markup. */
export function hostileSource(): ReportSource {
  const bad = "<img src=x onerror=window.broken=1>";
  const text = source(`/tmp/</script><script>window.broken=1</script>${bad}`);
  return {
    ...text,
    diagnosis: {
      ...text.diagnosis,
      advice: [bad, "</style><script>window.broken=2</script>", "javascript:alert(1)"],
      recordings: text.diagnosis.recordings.map((one) => ({
        ...one,
        motor: `"><svg onload=window.broken=3>${bad}`,
      })),
    },
    settings: { [bad]: "\u202e</li><script>window.broken=4</script>" },
  };
}
