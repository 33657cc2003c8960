/** A remedy for somebody who does not know motors: what the log points to, and the steps, each after power is off,
 * locked and proved dead. */
interface PlainRemedy {
  readonly meaning: string;
  readonly steps: readonly string[];
}

/** The alignment in words that need no knowledge of motors. */
export const alignment =
  "repeat the drive's alignment of the encoder with the shaft free: the step in which the drive finds how the encoder sits on the motor (manuals also call it commutation offset or phasing)";
export const powered = "Keep everybody clear of the shaft and put power back on.";

/** Each remedy by its code. */
export const plain: Readonly<Record<string, PlainRemedy>> = {
  keep: { meaning: "No sign of a fault was seen", steps: ["Leave the connections as they are."] },
  align: {
    meaning:
      "The drive's idea of how the encoder sits on the motor does not fit the motor. The leads can stay as they are",
    steps: [
      "Leave the three motor leads as they are.",
      "Make sure that the shaft can turn freely: no load, no brake, no belt.",
      powered,
      `Then ${alignment}. Use as much current for it as the motor's rating allows.`,
    ],
  },
  swap: {
    meaning:
      "Motor leads and encoder do not agree on the sense of rotation: two motor leads, or the encoder's signals A and B, are exchanged",
    steps: [
      "Exchange two of the three motor leads at the drive, any two; never the earth wire. Leave the encoder as it is.",
      powered,
      `Then ${alignment}.`,
    ],
  },
  "pole-pairs": {
    meaning: "The number of pole pairs that is set in the drive is not that of the motor",
    steps: [
      "Read the number of poles from the motor's plate or data sheet. Pole pairs are half of it.",
      powered,
      `Set the pole pairs in the drive without starting the motor, then ${alignment}.`,
    ],
  },
  lines: {
    meaning: "The number of lines that is set in the drive is not that of the encoder",
    steps: [
      "Read the number of lines (pulses a turn) from the encoder's label. Counts after quadrature are four times as many.",
      powered,
      `Set the lines in the drive without starting the motor, then ${alignment}.`,
    ],
  },
  continuity: {
    meaning: "One of the three motor leads makes no contact",
    steps: [
      "Take the three motor leads off the drive and measure the resistance between each two of them: three readings, nearly equal.",
      "Where one lead shows no connection, look for a loose terminal or a broken wire and repair it. Then put the leads back on the terminals they came from.",
      powered,
    ],
  },
  polarity: {
    meaning:
      "The motor's two wires, or the sensor's signals A and B, are exchanged: asked to turn one way, the shaft turns the other way",
    steps: ["Exchange the two wires of the motor. Leave the sensor as it is.", powered],
  },
  free: {
    meaning: "Something holds the shaft: a brake, or a jam",
    steps: [
      "Secure what can fall or run down when the shaft is free.",
      "Turn the shaft by hand. Release the brake or remove what holds it.",
      powered,
    ],
  },
  load: {
    meaning: "Load or friction is stronger than the torque that was asked for",
    steps: [
      "Uncouple the load, or have a qualified person raise the current limit within the motor's rating.",
      powered,
    ],
  },
  drive: {
    meaning:
      "The drive does not give the current that it is asked for: it is not enabled, at a limit, or without supply",
    steps: [
      "Look at the drive's supply: fuses, contactor, safety circuit, cables.",
      powered,
      "Read the drive's state and messages without starting the motor: enabled, supply present, limits as intended.",
    ],
  },
  sensor: {
    meaning: "The encoder, its cable or its coupling is at fault",
    steps: [
      "Look at the encoder's cable, plug and coupling: nothing loose, nothing broken.",
      "With the motor still without power, turn the shaft by hand through one whole turn and watch the position: it must rise or fall steadily by one turn.",
      powered,
    ],
  },
  tune: {
    meaning: "The wiring is sound; the gains of the speed loop do not suit this motor",
    steps: [
      "Leave the wiring as it is, and ask for new gains of the speed loop before the next trial.",
      powered,
    ],
  },
  display: {
    meaning: "The speed in the log has the wrong sign; wiring and motor agree",
    steps: ["Have the sign of the logged speed set right; the wiring needs no change.", powered],
  },
  look: {
    meaning: "None of the usual causes fits what the log shows",
    steps: ["Send the log as the drive wrote it, unchanged."],
  },
};
