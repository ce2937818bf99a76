/** The state of every part of the one-line diagram, apart from how it is drawn. */
import type { About, Snapshot } from './contract.js';
import { fresh, last, type SideState, shown, sideState } from './situation.js';
import { figure } from './words.js';

export type Contact = 'closed' | 'open' | 'unknown';

export interface SwitchState {
  readonly contact: Contact;
  /** A proof that stands says so too, not the auxiliary alone. */
  readonly proven: boolean;
  /** Its coil and its auxiliary differ: on its way, or a fault. */
  readonly differs: boolean;
  readonly words: string;
}

export interface RaftState {
  readonly name: string;
  readonly contact: Contact;
  readonly volts: string;
  readonly soc: string;
  readonly amps: string;
  readonly words: string;
}

export interface Circuit {
  readonly supply: {
    readonly ready: Contact;
    readonly words: readonly string[];
    readonly breaker: SwitchState;
  };
  readonly converter: { readonly words: string; readonly abnormal: boolean };
  readonly bleeders: { readonly output: string; readonly plug: string };
  readonly sides: { readonly output: SideState; readonly plug: SideState; readonly train: SideState };
  readonly contactors: { readonly p: SwitchState; readonly n: SwitchState; readonly pre: SwitchState | null };
  readonly train: { readonly p: SwitchState; readonly n: SwitchState };
  readonly plug: { readonly seated: Contact; readonly locked: Contact; readonly words: string };
  readonly pilot: string;
  readonly amps: string;
  readonly rafts: readonly RaftState[];
}

const contactOf = (flag: number | null): Contact => (flag === 1 ? 'closed' : flag === 0 ? 'open' : 'unknown');

function switchState(flag: number | null, coil: number | null, isProven: boolean): SwitchState {
  const contact = contactOf(flag);
  const differs = contact !== 'unknown' && coil !== null && coil !== flag;
  const said = contact === 'unknown' ? 'not known' : contact;
  const but = differs ? (coil === 1 ? ', but driven' : ', but not driven') : '';
  const sure = isProven && contact !== 'unknown';
  return { contact, proven: sure, differs, words: `${said}${sure ? ', proven' : ''}${but}` };
}

const CONVERTER = ['off', 'ready', 'delivering', 'FAULT'];

const yesNo = (flag: number | null, yes: string, no: string, unknown: string): string =>
  flag === 1 ? yes : flag === 0 ? no : unknown;

function raftState(snapshot: Snapshot, role: string, name: string): RaftState {
  const f = (field: string): number | null => fresh(snapshot, role, field);
  const contact = contactOf(f('joined'));
  const soc = f('soc');
  const alarm = f('alarm');
  const joined = contact === 'closed' ? 'joined' : contact === 'open' ? 'apart' : 'not known';
  const warned = alarm === 1 ? ', warning' : alarm === 2 ? ', STOP CHARGING' : '';
  return {
    name,
    contact,
    volts: figure(f('packV'), 'V'),
    soc: soc === null ? '' : `${(soc * 100).toFixed(1)} %`,
    amps: contact === 'closed' ? figure(f('packA'), 'A') : '',
    words: `${joined}${warned}`,
  };
}

export function circuit(about: About, snapshot: Snapshot): Circuit {
  const f = (role: string, field: string): number | null => fresh(snapshot, role, field);
  const side = (name: 'output' | 'plug' | 'train'): SideState => sideState(snapshot, name, about.rig.safeV);
  const closed = f('contactor', 'closedP') === 1;
  const closedN = f('contactor', 'closedN') === 1;
  const follow = shown(snapshot, 'poles-follow');
  const state = f('converter', 'state');
  const seated = contactOf(f('latch', 'seated'));
  const locked = contactOf(f('latch', 'locked'));
  const ready = contactOf(f('supply', 'ready'));
  const joint = about.rig.connection === 'shoes' ? ['down', 'LIFTED'] : ['seated', 'NOT seated'];
  const trainP = f('train', 'closedP');
  const trainN = f('train', 'closedN');
  const meanA = f('loop', 'meanA');
  const hertz = f('supply', 'frequencyHz');
  return {
    supply: {
      ready,
      words: [
        yesNo(f('supply', 'ready'), 'ready', 'NOT ready', 'not known'),
        figure(f('supply', 'voltageV'), 'V'),
        ...(hertz === null ? [] : [figure(hertz, 'Hz')]),
      ],
      breaker: switchState(f('supply', 'breakerClosed'), null, false),
    },
    converter: {
      words: state === null ? 'not known' : (CONVERTER[state] ?? 'not known'),
      abnormal: state === 3,
    },
    bleeders: {
      output: yesNo(f('bleeder', 'outputOn'), 'bleeding', 'off', 'not known'),
      plug: yesNo(f('bleeder', 'plugOn'), 'bleeding', 'off', 'not known'),
    },
    sides: { output: side('output'), plug: side('plug'), train: side('train') },
    contactors: {
      p: switchState(
        f('contactor', 'closedP'),
        f('contactor', 'coilP'),
        closed ? follow || shown(snapshot, 'closed-p') : shown(snapshot, 'open-p'),
      ),
      n: switchState(
        f('contactor', 'closedN'),
        f('contactor', 'coilN'),
        closedN ? follow || shown(snapshot, 'closed-n') : shown(snapshot, 'open-n'),
      ),
      pre: about.rig.matchesVoltage
        ? null
        : switchState(f('contactor', 'closedPre'), f('contactor', 'coilPre'), false),
    },
    train: {
      p: switchState(trainP, null, shown(snapshot, trainP === 1 ? 'train-closed' : 'train-open')),
      n: switchState(trainN, null, shown(snapshot, trainN === 1 ? 'train-closed' : 'train-open')),
    },
    plug: {
      seated,
      locked,
      words: [
        yesNo(f('latch', 'seated'), joint[0] as string, joint[1] as string, 'seat not known'),
        yesNo(f('latch', 'locked'), 'locked', 'NOT locked', 'lock not known'),
      ].join(', '),
    },
    pilot:
      about.rig.connection === 'shoes'
        ? ''
        : meanA === null
          ? 'pilot not known'
          : `pilot ${(meanA * 1000).toFixed(2)} mA mean`,
    amps: figure(f('meter', 'currentA'), 'A'),
    rafts: about.rig.rafts.map((r, i) => raftState(snapshot, `raft${i + 1}`, r.name)),
  };
}

export interface Fact {
  readonly name: string;
  readonly words: string;
  readonly abnormal: boolean;
}

/** What stands beside the circuit: the stand, the stop chain, heat. */
export function standFacts(about: About, snapshot: Snapshot): Fact[] {
  const flag = (name: string, role: string, field: string, good: 0 | 1, yes: string, no: string): Fact => {
    const v = fresh(snapshot, role, field);
    return { name, words: yesNo(v, yes, no, 'not known'), abnormal: v !== null && v !== good };
  };
  const value = (name: string, role: string, field: string, unit: string): Fact => {
    const old = fresh(snapshot, role, field) === null && last(snapshot, role, field) !== null;
    const text = figure(last(snapshot, role, field), unit);
    return { name, words: old ? `${text}, old` : text === 'not read' ? 'not known' : text, abnormal: false };
  };
  const shoes = about.rig.connection === 'shoes';
  return [
    flag('Stop chain', 'stop', 'chainClosed', 1, 'closed', 'OPEN'),
    flag('Train', 'berth', 'atStand', 1, 'at the stand', 'NOT at the stand'),
    flag('Brake', 'berth', 'brakeOn', 1, 'on', 'OFF'),
    flag('Traction', 'berth', 'tractionInhibited', 1, 'inhibited', 'NOT inhibited'),
    value('Bond', 'berth', 'bondOhm', 'ohm'),
    ...(shoes ? [flag('Plates', 'latch', 'plateCovered', 1, 'covered', 'EXPOSED')] : []),
    value(shoes ? 'Conductor' : 'Cable', 'meter', 'cableC', 'degC'),
    value(shoes ? 'Shoe' : 'Contact', 'meter', 'contactC', 'degC'),
    value('Heat sink', 'converter', 'temperatureC', 'degC'),
  ];
}
