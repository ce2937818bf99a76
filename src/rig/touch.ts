/**
 * DC touch voltage permitted for a time: EN 50122-1:2011 Table 6 (published, transcription). For fixed installations of
 * railways; here it says what a time that a protection takes would mean for a person, and is no limit of its own.
 */
const TABLE: readonly (readonly [seconds: number, volts: number])[] = [
  [0.02, 870],
  [0.05, 735],
  [0.1, 625],
  [0.2, 520],
  [0.3, 460],
  [0.4, 420],
  [0.5, 385],
  [0.6, 360],
  [0.7, 175],
  [0.8, 170],
  [0.9, 165],
  [1, 160],
  [300, 150],
];
/** For longer than the last row. */
const LASTING_V = 120;

/** Volts. Between two rows that of the longer time: our own rule, on the safe side; so is what is not a time. */
export const touchV = (seconds: number): number =>
  TABLE.find(([atMost]) => seconds <= atMost)?.[1] ?? LASTING_V;
