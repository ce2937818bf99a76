/** A day of several trains: where each of them calls, when, what the runs between take, and how far it is charged. */
import { z } from 'zod';
import { name, nonNegative, positive, share } from '../rig/schema-parts.js';
import { dayTime, timeOfDay } from './day-clock.js';
import type { FileKind, SayFault } from './planning-file.js';

const runSchema = z
  .strictObject({
    route: z
      .string()
      .min(1)
      .optional()
      .describe('a route file beside this one, or the name of a shipped route'),
    reversed: z.boolean().default(false),
    energyKwh: nonNegative().max(10_000).optional().describe('from the rafts, in place of a route'),
  })
  .describe('from the call before to this one');

const callSchema = z.strictObject({
  at: name.describe('a berth'),
  arrives: timeOfDay(),
  departs: timeOfDay(),
  run: runSchema.optional(),
  toSoc: share()
    .optional()
    .describe('charged no further; the ceiling of its rig when absent, 0 for not at all'),
  leaveSoc: share().optional().describe('stays until it has as much, even past its time'),
  sleeps: z.boolean().default(false).describe('auxiliaries are off'),
});

export const timetableSchema = z.strictObject({
  name,
  title: z.string().min(3),
  note: z.string().optional(),
  from: timeOfDay(),
  until: timeOfDay(),
  stepS: z
    .number()
    .int()
    .min(60)
    .max(3600)
    .multipleOf(10)
    .default(300)
    .describe('of the plan, and of the peak that is paid for'),
  ambientC: z.number().min(-60).max(60),
  leastDwellS: positive().max(3600).default(60).describe('a late train stands no shorter'),
  berths: z
    .array(z.strictObject({ name, rig: name.optional().describe('its charger; none when absent') }))
    .min(1)
    .max(100),
  trains: z
    .array(
      z.strictObject({
        name,
        rig: name.describe('whose battery it has'),
        startSoc: share(),
        startC: z.number().min(-60).max(60),
        auxiliariesKw: nonNegative().max(2000).describe('while it stands awake'),
        calls: z.array(callSchema).min(1).max(500),
      }),
    )
    .min(1)
    .max(100),
});
export type Timetable = z.output<typeof timetableSchema>;
export type Train = Timetable['trains'][number];
export type Call = Train['calls'][number];

export const TIMETABLE: FileKind<typeof timetableSchema> = {
  name: 'timetable',
  folder: 'timetables',
  schema: timetableSchema,
  rules(day, say) {
    const { from, until, stepS } = day;
    if (until <= from) say(['until'], `found ${dayTime(until)}, expected later than from, ${dayTime(from)}`);
    else if ((until - from) % stepS !== 0)
      say(
        ['stepS'],
        `found ${stepS}, expected a length that divides ${until - from} s from beginning to end`,
      );
    unlike(
      day.berths.map((b) => b.name),
      (i) => say(['berths', i, 'name'], 'another berth has this name'),
    );
    unlike(
      day.trains.map((t) => t.name),
      (i) => say(['trains', i, 'name'], 'another train has this name'),
    );
    day.trains.forEach((train, t) => {
      callsOf(day, train, t, say);
    });
    overlaps(day, say);
  },
};

function unlike(names: readonly string[], say: (index: number) => void): void {
  names.forEach((one, i) => {
    if (names.indexOf(one) < i) say(i);
  });
}

function callsOf(day: Timetable, train: Train, t: number, say: SayFault): void {
  train.calls.forEach((call, c) => {
    const at = (key: string) => ['trains', t, 'calls', c, key];
    if (!day.berths.some((b) => b.name === call.at))
      say(at('at'), `there is no berth ${call.at}; berths: ${day.berths.map((b) => b.name).join(', ')}`);
    const span = `${dayTime(call.arrives)} to ${dayTime(call.departs)}`;
    if (call.departs <= call.arrives)
      say(
        at('departs'),
        `time goes backwards: it departs at ${dayTime(call.departs)} and arrives at ${dayTime(call.arrives)}`,
      );
    if (call.arrives < day.from || call.departs > day.until)
      say(
        at('arrives'),
        `found ${span}, expected within the day, ${dayTime(day.from)} to ${dayTime(day.until)}`,
      );
    const before = train.calls[c - 1];
    follows(before, call, (key, message) => say(at(key), message));
  });
}

function follows(before: Call | undefined, call: Call, say: (key: string, message: string) => void): void {
  const { run } = call;
  if (run !== undefined && (run.route === undefined) === (run.energyKwh === undefined))
    say('run', 'expected either `route` or `energyKwh`');
  if (before === undefined) {
    if (run !== undefined) say('run', 'the first call of a train has no run before it');
    return;
  }
  if (call.arrives < before.arrives)
    say('arrives', `time goes backwards: the call before is at ${dayTime(before.arrives)}`);
  else if (call.arrives < before.departs && call.at !== before.at)
    say(
      'arrives',
      `the train is in two places: at ${before.at} until ${dayTime(before.departs)}, and here from ${dayTime(call.arrives)}`,
    );
  else if (call.arrives < before.departs)
    say('arrives', `time goes backwards: the train departs from here at ${dayTime(before.departs)} first`);
  if (run === undefined && call.at !== before.at)
    say('run', `missing: how the train comes here from ${before.at}`);
  if (run !== undefined && call.arrives === before.departs)
    say('arrives', `a run takes time: the train departs from ${before.at} at ${dayTime(before.departs)}`);
}

/** Two trains at one berth at the same time. */
function overlaps({ trains }: Timetable, say: SayFault): void {
  const all = trains.flatMap((train, t) => train.calls.map((call, c) => ({ train, t, c, call })));
  for (const [i, one] of all.entries())
    for (const other of all.slice(0, i))
      if (
        other.t !== one.t &&
        other.call.at === one.call.at &&
        one.call.arrives < other.call.departs &&
        other.call.arrives < one.call.departs
      )
        say(
          ['trains', one.t, 'calls', one.c, 'arrives'],
          `${other.train.name} is at ${one.call.at} from ${dayTime(other.call.arrives)} to ${dayTime(other.call.departs)}: no room for ${one.train.name}`,
        );
}
