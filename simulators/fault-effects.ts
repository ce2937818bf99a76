/**
 * What each fault does to the parts. Every effect returns its undoing; a fault without a duration is never undone.
 */
import type { PoleName, Side } from './circuit.js';
import type { Pole, PoleDefect } from './contactor.js';
import type { DueFault, FaultName } from './faults.js';
import { type Parts, remakeLines } from './parts.js';
import type { Raft } from './raft.js';
import type { Sensors } from './sensors.js';

/** What an effect can use besides the parts. */
export interface EffectTools {
  readonly parts: Parts;
  readonly sensors: Sensors;
  nowMs(): number;
  /** Calls `set` with 0..1 over this time, then with 1. */
  glide(overMs: number, set: (share: number) => void): void;
  /** Calls once, later. */
  later(afterMs: number, run: () => void): void;
  setPoleClosed(pole: 'p' | 'n' | 'pre', closed: boolean): void;
}

type Effect = (tools: EffectTools, due: DueFault) => () => void;

const LEAK_FROM_OHM = 5000;
const LEAK_MS = 4000;
const CONTACT_MS = 10_000;
const nothing = () => {};

/** A flag that is set and taken back. */
const flag =
  (set: (tools: EffectTools, on: boolean, due: DueFault) => void): Effect =>
  (tools, due) => {
    set(tools, true, due);
    return () => set(tools, false, due);
  };

function poleNamed(tools: EffectTools, part: string): Pole {
  if (part === 'n') return tools.parts.poleN;
  return part === 'pre' ? tools.parts.polePre : tools.parts.poleP;
}

const poleDefect =
  (defect: PoleDefect): Effect =>
  (tools, due) => {
    const pole = poleNamed(tools, due.part);
    pole.setDefect(defect, tools.nowMs());
    return () => pole.setDefect('none', tools.nowMs());
  };

const trainDefect =
  (defect: PoleDefect): Effect =>
  (tools, due) => {
    const poles = (['p', 'n'] as const).filter(
      (p) => due.part === p || due.part === 'both' || due.part === '',
    );
    for (const p of poles) tools.parts.train[p].setDefect(defect, tools.nowMs());
    return () => {
      for (const p of poles) tools.parts.train[p].setDefect('none', tools.nowMs());
    };
  };

function raftsNamed(tools: EffectTools, part: string): readonly Raft[] {
  if (part === 'all') return tools.parts.rafts;
  const index = Number(part.replace(/^raft-?/, '')) - 1;
  const raft = tools.parts.rafts[index];
  if (raft === undefined)
    throw new Error(`fault names ${part}, but the rig has ${tools.parts.rafts.length} rafts`);
  return [raft];
}

const eachRaft =
  (set: (raft: Raft, magnitude: number, on: boolean) => void): Effect =>
  (tools, due) => {
    const rafts = raftsNamed(tools, due.part);
    for (const raft of rafts) set(raft, due.magnitude, true);
    return () => {
      for (const raft of rafts) set(raft, due.magnitude, false);
    };
  };

const leakage: Effect = (tools, due) => {
  const [side, only] = due.part.split('-') as [Side, PoleName | undefined];
  const poles: readonly PoleName[] = only === undefined ? ['p', 'n'] : [only];
  for (const pole of poles) tools.parts.circuit.setLeak(side, pole, due.magnitude);
  return () => {
    for (const pole of poles) tools.parts.circuit.setLeak(side, pole, null);
  };
};

const drawApart = (tools: EffectTools, pole: string, ms: number, first: () => void, second: () => void) => {
  first();
  tools.later(ms, () => {
    for (const p of ['p', 'n'] as const) if (pole === p || pole === 'both') tools.parts.touching[p] = false;
    second();
    remakeLines(tools.parts);
  });
  return nothing; // what has been drawn apart does not mend by itself
};

export const EFFECTS: Record<FaultName, Effect> = {
  'loop-open': flag((t, on) => t.parts.pilot?.change({ open: on }, t.nowMs())),
  'loop-crush': flag((t, on, due) =>
    t.parts.pilot?.change({ crushOhm: on ? due.magnitude : Number.POSITIVE_INFINITY }, t.nowMs()),
  ),
  'loop-reverse': flag((t, on) => t.parts.pilot?.change({ reversed: on }, t.nowMs())),
  'loop-leak': (tools, due) => {
    let gone = false;
    const from = Math.max(LEAK_FROM_OHM, due.magnitude);
    tools.glide(LEAK_MS, (share) => {
      if (gone) return;
      tools.parts.pilot?.change({ shuntOhm: from + (due.magnitude - from) * share }, tools.nowMs());
    });
    return () => {
      gone = true;
      tools.parts.pilot?.change({ shuntOhm: Number.POSITIVE_INFINITY }, tools.nowMs());
    };
  },
  'pilot-dead': flag((t, on) => t.parts.pilot?.setSourceDead(on, t.nowMs())),
  'isolation-one-pole': leakage,
  'isolation-both-poles': leakage,
  'stored-charge': flag((t, on, due) => {
    for (const pole of ['p', 'n'] as const)
      t.parts.circuit.setExtraY(due.part as Side, pole, on ? due.magnitude : 0);
  }),
  'contactor-weld': poleDefect('welds'),
  'contactor-weld-at-rest': (tools, due) => {
    const pole = poleNamed(tools, due.part);
    pole.setDefect('welds', tools.nowMs());
    tools.setPoleClosed(due.part === 'n' ? 'n' : due.part === 'pre' ? 'pre' : 'p', true);
    return () => pole.setDefect('none', tools.nowMs());
  },
  'contactor-wont-close': poleDefect('wont-close'),
  'contactor-drops': (tools, due) => {
    poleNamed(tools, due.part).setDefect('wont-close', tools.nowMs());
    tools.setPoleClosed(due.part === 'n' ? 'n' : 'p', false);
    return nothing;
  },
  'aux-says-closed': poleDefect('aux-says-closed'),
  'aux-says-open': poleDefect('aux-says-open'),
  'precharge-shorted': flag((t, on) => {
    t.parts.circuit.precharge = on ? 'bridged' : 'healthy';
    t.parts.circuit.setPre(t.parts.polePre.closed);
  }),
  'precharge-open': (tools, due) => poleDefect('wont-close')(tools, { ...due, part: 'pre' }),
  'polarity-reversed': flag((t, on) => t.parts.circuit.reversePolarity(on)),
  'converter-overshoots': (tools, due) => {
    tools.parts.converter.overshootPercent = due.magnitude;
    return () => {
      tools.parts.converter.overshootPercent = Number.NaN;
    };
  },
  'converter-steps': (tools, due) => {
    tools.parts.converter.jump(due.magnitude, tools.nowMs());
    return nothing;
  },
  'converter-falls-short': flag((t, on, due) => {
    t.parts.converter.shortPercent = on ? Math.min(100, due.magnitude) : 0;
  }),
  'converter-wont-stop': flag((t, on) => {
    t.parts.converter.stuck = on;
  }),
  'converter-faulted': flag((t, on) => {
    t.parts.converter.tripped = on;
  }),
  'current-reverses': flag((t, on, due) => {
    t.parts.converter.failed = on;
    t.parts.circuit.setRectifierFault(on ? due.magnitude : null);
  }),
  'relay-test-voltage': flag((t, on, due) => {
    t.parts.outside.relayTestV = on ? due.magnitude : Number.NaN;
  }),
  'sensor-frozen': flag((t, on, due) => t.sensors.freeze(due.part, on)),
  'sensor-reads-nothing': flag((t, on, due) => t.sensors.blind(due.part, on)),
  'meter-gain': flag((t, on, due) => {
    if (due.part === 'voltage') t.sensors.meterVoltageGain = on ? 1 + due.magnitude / 100 : 1;
    else t.sensors.meterCurrentGain = on ? 1 + due.magnitude / 100 : 1;
  }),
  'voltmeter-dead': flag((t, on, due) => {
    if (due.part === 'output' || due.part === 'all') t.sensors.deadVolts.output = on;
    if (due.part === 'plug' || due.part === 'all') t.sensors.deadVolts.plug = on;
  }),
  'contact-sensor-blind': flag((t, on) => {
    t.parts.cable.contactSensorBlind = on;
  }),
  'link-silent': flag((t, on) => {
    t.parts.outside.silent = on;
  }),
  'line-deaf': flag((t, on) => {
    t.parts.outside.deaf = on;
  }),
  'link-noisy': flag((t, on, due) => {
    t.parts.outside.corruptShare = on ? Math.min(1, due.magnitude) : 0;
    t.parts.outside.dropShare = on ? Math.min(1, due.magnitude / 2) : 0;
  }),
  'port-lost': flag((t, on, due) => {
    if (on) t.parts.outside.lostPorts.add(due.part);
    else t.parts.outside.lostPorts.delete(due.part);
  }),
  'journal-slow': flag((t, on, due) => {
    t.parts.outside.journalDelayMs = on ? due.magnitude : 0;
  }),
  'journal-full': flag((t, on) => {
    t.parts.outside.journalFails = on;
  }),
  'cell-too-high': eachRaft((raft, magnitude, on) => {
    raft.highCellV = on ? magnitude : 0;
  }),
  'cell-too-low': eachRaft((raft, magnitude, on) => {
    raft.lowCellV = on ? magnitude : 0;
  }),
  'cooling-lost': eachRaft((raft, magnitude, on) => {
    raft.coolingLost = on;
    raft.extraHeatKPerS = on ? magnitude : 0;
  }),
  'cells-cold': eachRaft((raft, magnitude, on) => {
    if (on) raft.setCellC(magnitude);
  }),
  'cell-spread': eachRaft((raft, magnitude, on) => {
    if (on) raft.spreadV = magnitude;
  }),
  'raft-silent': flag((t, on, due) => t.sensors.freeze(due.part, on)),
  'raft-drops-out': eachRaft((raft, _magnitude, on) => {
    if (on) raft.dropOut();
    else raft.droppedOut = false;
  }),
  'raft-wont-join': eachRaft((raft, _magnitude, on) => {
    raft.droppedOut = on;
  }),
  'raft-isolation': eachRaft((raft, magnitude, on) => {
    raft.isolationOhm = on ? magnitude : 2e6;
  }),
  'raft-alarm': eachRaft((raft, magnitude, on) => {
    raft.unit.forcedAlarm = on ? Math.min(2, Math.max(1, Math.round(magnitude))) : 0;
  }),
  'generator-running': flag((t, on) => {
    for (const raft of t.parts.rafts) if (raft.kind === 'generator') raft.generatorRunning = on;
  }),
  'contact-heats': flag((t, on, due) => {
    t.parts.cable.contactHeatKPerS = on ? due.magnitude : 0;
  }),
  'cable-heats': flag((t, on, due) => {
    t.parts.cable.extraHeatKPerS = on ? due.magnitude : 0;
  }),
  'cable-coiled': flag((t, on, due) => {
    t.parts.cable.coilingFactor = on ? due.magnitude : 1;
  }),
  'contact-resistance': (tools, due) => {
    const pole: PoleName = due.part === 'n' ? 'n' : 'p';
    const from = tools.parts.cable.contactOhm[pole];
    let gone = false;
    tools.glide(CONTACT_MS, (share) => {
      if (!gone) tools.parts.cable.contactOhm[pole] = from + (due.magnitude - from) * share;
    });
    return () => {
      gone = true;
      tools.parts.cable.contactOhm[pole] = from;
    };
  },
  'supply-sags': flag((t, on, due) => {
    t.parts.supply.sagShare = on ? due.magnitude / 100 : 0;
  }),
  'supply-dips': flag((t, on, due) => {
    t.parts.supply.sagShare = on ? due.magnitude / 100 : 0;
  }),
  'supply-not-ready': flag((t, on) => {
    t.parts.supply.notReady = on;
  }),
  'supply-breaker-opens': (tools) => {
    tools.parts.supply.trip(tools.nowMs());
    return nothing;
  },
  'stop-pressed': flag((t, on) => t.parts.stand.press(on)),
  'plug-pulled': (tools, due) =>
    drawApart(
      tools,
      'both',
      due.magnitude,
      () => tools.parts.pilot?.change({ open: true }, tools.nowMs()),
      () => {
        tools.parts.stand.seated = false;
        tools.parts.stand.locked = false;
      },
    ),
  'latch-wont-lock': flag((t, on) => {
    t.parts.stand.latchBlocked = on;
  }),
  'latch-stuck': flag((t, on) => {
    t.parts.stand.latchStuck = on;
  }),
  'latch-slips': (tools) => {
    tools.parts.stand.locked = false;
    return nothing;
  },
  'bond-lost': (tools, due) => {
    const before = tools.parts.stand.bondOhm;
    tools.parts.stand.bondOhm = due.magnitude;
    return () => {
      tools.parts.stand.bondOhm = before;
    };
  },
  'brake-off': flag((t, on) => {
    t.parts.stand.brakeOn = !on;
  }),
  'traction-live': flag((t, on) => {
    t.parts.stand.tractionInhibited = !on;
  }),
  'train-moves': flag((t, on) => {
    t.parts.stand.atStand = !on;
  }),
  'train-contactor-weld': trainDefect('welds'),
  'train-live': (tools) => {
    const { train, rafts } = tools.parts;
    const force = (closed: boolean): void => {
      train.p.force(closed);
      train.n.force(closed);
      remakeLines(tools.parts);
      rafts.find((raft) => raft.kind === 'battery')?.order(closed, tools.nowMs());
    };
    force(true);
    return () => force(false);
  },
  'train-wont-close': trainDefect('wont-close'),
  'train-aux-says-open': trainDefect('aux-says-open'),
  'bleeder-dead': flag((t, on, due) => {
    if (due.part !== 'plug') t.parts.bleeders.setDead('output', on);
    if (due.part !== 'output') t.parts.bleeders.setDead('plug', on);
  }),
  'shoe-lifts': (tools, due) => {
    const pole: PoleName = due.part === 'n' ? 'n' : 'p';
    return drawApart(
      tools,
      pole,
      due.magnitude,
      () => {
        tools.parts.stand.shoeSense[pole] = false;
      },
      () => {
        tools.parts.stand.seated = false;
      },
    );
  },
  'shoe-poor-contact': (tools, due) => {
    const pole: PoleName = due.part === 'n' ? 'n' : 'p';
    const before = tools.parts.cable.contactOhm[pole];
    tools.parts.cable.contactOhm[pole] = due.magnitude;
    return () => {
      tools.parts.cable.contactOhm[pole] = before;
    };
  },
  'plate-exposed': flag((t, on) => {
    t.parts.stand.plateCovered = !on;
  }),
};
