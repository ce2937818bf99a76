/**
 * The rules of the model checker's side, written by hand in Promela: what is remembered, what each command asks for,
 * and the claims. A second formulation of machines/invariants.ts on purpose; nothing here is made from it.
 */
import { TIMERS } from '../../../machines/vocabulary.js';

const word = (name: string): string => name.replaceAll(/[-.]/g, '_');

/** Commands that do not matter to any claim still have a name, so that the table reads like the machine. */
const PLAIN = [
  'pilot-on',
  'pilot-off',
  'open-train',
  'open-pre',
  'bleed-output',
  'bleed-plug',
  'end-bleeding',
  'part-poles',
  'isolation-off',
  'set-latch',
  'clear-latch',
] as const;

export const PROMELA_RULES = `
/* What was proven and ordered since the machine last left parked. */
bit started, secured, presence, isolation_dead, isolation_joined, matched;
bit closed_p, closed_n, poles_follow, proven_dead;
bit locked, live, authority, ramping_down, making_safe, tripped;
${TIMERS.map((t) => `bit t_${word(t)};`).join('\n')}

/* Broken invariants; once set they stay. */
bit bad1, bad2, bad4, bad5, bad6, bad10, bad12;

/* Of the step under way. */
hidden byte made, lowered, energised;
hidden byte w_started, w_safe, w_tripped, w_authority, w_dead, w_live;

inline forget() {
  started = 0; secured = 0; presence = 0; isolation_dead = 0; isolation_joined = 0; matched = 0;
  closed_p = 0; closed_n = 0; poles_follow = 0; proven_dead = 0;
  locked = 0; live = 0; authority = 0; ramping_down = 0; making_safe = 0; tripped = 0
}
inline begin_step() {
  made = 0; lowered = 0; energised = 0;
  w_started = started; w_safe = making_safe; w_tripped = tripped;
  w_authority = authority; w_dead = proven_dead; w_live = live
}

/* Commands. */
inline energise() { energised = 1; proven_dead = 0 }
inline fixed() { bad12 = bad12 || !locked || !secured }
inline C_close_train(on_match) {
  bad1 = bad1 || !secured || !presence || !isolation_dead;
  fixed(); energise(); live = 1
}
inline C_close_pre(on_match) {
  bad1 = bad1 || !secured || !presence || !isolation_dead || !isolation_joined;
  fixed(); energise(); live = 1
}
inline C_close_n(on_match) {
  bad1 = bad1 || !secured || !presence || !isolation_dead || !isolation_joined || (on_match && !matched);
  fixed(); energise(); live = 1
}
inline C_close_p(on_match) {
  bad1 = bad1 || !secured || !presence || !isolation_dead || !isolation_joined || !matched;
  fixed(); energise(); live = 1
}
inline authorise() {
  bad2 = bad2 || !closed_p || !closed_n || !poles_follow || !presence || !isolation_joined || tripped || ramping_down;
  fixed(); energise(); authority = 1
}
inline C_authorise_hold_point(on_match) { authorise() }
inline C_authorise_full(on_match) { authorise() }
inline C_enable_converter(on_match) { fixed(); energise() }
inline C_match_voltage(on_match) { energise() }
inline C_probe_poles(on_match) { energise() }
inline C_lock(on_match) { locked = 1 }
inline C_unlock(on_match) { bad5 = bad5 || !proven_dead || tripped; locked = 0 }
inline C_open_p(on_match) { closed_p = 0; poles_follow = 0 }
inline C_open_n(on_match) { closed_n = 0; poles_follow = 0 }
inline C_ramp_down(on_match) { lowered = 1; ramping_down = 1 }
inline C_disable_converter(on_match) { authority = 0 }
inline C_make_safe(on_match) {
  made = 1; making_safe = 1; authority = 0; closed_p = 0; closed_n = 0; poles_follow = 0
}
${PLAIN.map((c) => `inline C_${word(c)}(on_match) { skip }`).join('\n')}

/* Ends of steps. was_end: nothing was under way; back: parked or released is reached. */
inline trip0_done(was_end, taken) {
  bad4 = bad4 || (w_started && !was_end && !w_safe && !made);
  bad12 = bad12 || (w_live && !was_end && !w_safe && !taken)
}
inline trip1_done(was_end) {
  bad4 = bad4 || (w_started && !was_end && !w_safe && !w_tripped && !made && !(w_authority && lowered))
}
inline overdue_done(was_end) { bad4 = bad4 || (w_started && !was_end && !w_safe && !made) }
inline start_done(was_latched) { bad6 = bad6 || was_latched }
inline acknowledge_done() { bad6 = bad6 || (w_tripped && !w_dead) }
inline any_done(was_latched, latched, back) {
  bad6 = bad6 || (was_latched && !latched) || (tripped && (!latched || back || energised))
}

ltl I1 { [] !bad1 }
ltl I2 { [] !bad2 }
ltl I4 { [] !bad4 }
ltl I5 { [] !bad5 }
ltl I6 { [] !bad6 }
ltl I10 { [] !bad10 }
ltl I12 { [] !bad12 }
`;
